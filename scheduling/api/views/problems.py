"""The kinds of problem, explained where their `type` points; and what is nowhere."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, NoReturn

from django.http import Http404, HttpResponsePermanentRedirect
from django.http.response import HttpResponseBase
from django.urls import Resolver404, resolve
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.views import APIView

from scheduling.api.operations import operation
from scheduling.api.problems import status_of, title_of
from scheduling.api.resource import Resource
from scheduling.api.serializers.problems import ProblemKindSerializer
from studios.errors import LehrbookError

OF_THE_PROTOCOL = {
    "parse-error": 400,
    "not-authenticated": 401,
    "authentication-failed": 401,
    "permission-denied": 403,
    "not-found": 404,
    "method-not-allowed": 405,
    "not-acceptable": 406,
    "too-large": 413,
    "too-busy": 503,
    "unsupported-media-type": 415,
    "throttled": 429,
    "server-error": 500,
}


class ProblemView(Resource):
    """The kinds of problem."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @operation(answer=ProblemKindSerializer)
    def retrieve(self, _anybody: Any, _given: dict[str, Any], code: str) -> dict[str, Any]:
        """What a `code` means."""
        kinds = _kinds()
        if code not in kinds:
            raise Http404
        return kinds[code]


def _kinds() -> dict[str, dict[str, Any]]:
    """Every code that a problem can have."""
    found = {
        code: {"code": code, "title": HTTPStatus(status).phrase, "status": status}
        for code, status in OF_THE_PROTOCOL.items()
    }
    for kind in _leaves(LehrbookError):
        found[kind.code] = {"code": kind.code, "title": title_of(kind), "status": status_of(kind)}
    return found


def _leaves(root: type[LehrbookError]) -> list[type[LehrbookError]]:
    return [root, *(leaf for kind in root.__subclasses__() for leaf in _leaves(kind))]


class NowhereView(APIView):
    """Any other address under the API: what only lacks its slash is led there, anything else is not found."""

    authentication_classes = ()
    permission_classes = (AllowAny,)
    schema = None

    def dispatch(self, request: Any, *args: Any, **named: Any) -> HttpResponseBase:
        if not request.path.endswith("/") and _is_something(f"{request.path_info}/"):
            target = request.get_full_path(force_append_slash=True)
            return HttpResponsePermanentRedirect(target, preserve_request=True)
        return super().dispatch(request, *args, **named)

    def initial(self, request: Request, *args: Any, **named: Any) -> NoReturn:  # noqa: ARG002 - DRF's signature
        raise Http404


def _is_something(path: str) -> bool:
    try:
        return resolve(path).url_name != "nowhere"
    except Resolver404:
        return False
