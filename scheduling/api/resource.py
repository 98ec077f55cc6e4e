"""What all resources share: checked requests, pages, ETags, and requests carried out once."""

from __future__ import annotations

import functools
import hashlib
import json
import re
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, TypeVar

from django.http.response import HttpResponseBase
from django.utils.cache import patch_cache_control
from django.utils.functional import SimpleLazyObject
from django.utils.http import parse_etags
from rest_framework.authentication import BaseAuthentication
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer
from rest_framework.viewsets import GenericViewSet

from scheduling.api import problems
from scheduling.api.access import AUTHENTICATION
from scheduling.api.operations import Operation
from scheduling.api.paging import Pages
from scheduling.api.parsing import StrictJSONParser
from scheduling.api.schema import Description
from scheduling.api.strict import Strict
from scheduling.selectors.held import viewer_of
from scheduling.services import repeats
from scheduling.services.repeats import Answer
from scheduling.services.transactions import joining
from studios.models import Person

S = TypeVar("S", bound=BaseSerializer[Any])
KEY = re.compile(r"[\x21-\x7e]{1,200}")


class _Serializers(threading.local):
    """Serializers that are made already, in one thread: what their fields are is found out once."""

    def __init__(self) -> None:
        self._by_kind: dict[type[BaseSerializer[Any]], BaseSerializer[Any]] = {}

    @contextmanager
    def ready(self, kind: type[S], context: Mapping[str, Any]) -> Iterator[S]:
        """One of a kind, as a new one would be; nobody's request is kept in it."""
        serializer: Any = self._by_kind.pop(kind, None) or kind(context={})
        serializer._context = context  # noqa: SLF001 - what a new one would be given
        try:
            yield serializer
        finally:
            serializer._context = {}  # noqa: SLF001 - as above
            for name in ("initial_data", "_validated_data", "_errors"):
                serializer.__dict__.pop(name, None)
            self._by_kind[kind] = serializer


_serializers = _Serializers()


class Resource(GenericViewSet[Any]):
    """One kind of thing under one address."""

    parser_classes = (StrictJSONParser,)
    authentication_classes: Sequence[type[BaseAuthentication]] = AUTHENTICATION
    schema = Description()
    http_method_names = ["get", "head", "post", "delete"]
    filter_backends = ()
    pagination_class = Pages
    metadata_class = None
    _ready: dict[str, Any] | None = None

    def get_authenticate_header(self, request: Request) -> str:  # noqa: ARG002 - DRF's signature
        """Who is not signed in is told so with 401; the token is the way in for a program."""
        return 'Token realm="Lehrbook"'

    @property
    def person(self) -> Person:
        """Who asks; only endpoints that are for everybody are reached without signing in."""
        return self.request.user  # type: ignore[return-value]  # see above

    def get_serializer_context(self) -> dict[str, Any]:
        """What serializers know besides the thing itself: who reads it."""
        viewer = SimpleLazyObject(lambda: viewer_of(self.person))
        return {**super().get_serializer_context(), "viewer": viewer}

    def respond(
        self, facts: Operation, handler: Callable[..., Any], named: Mapping[str, Any]
    ) -> HttpResponseBase:
        """Check what was sent, carry it out, show what came of it."""
        run = functools.partial(self._run, facts, handler, named)
        prepare = functools.partial(self._prepare, facts)
        if facts.repeatable and (key := self._key()) is not None:
            return self._once(key, prepare, run)
        prepare()
        response = run()
        return self._tagged(response) if facts.detail else response

    def _prepare(self, facts: Operation) -> None:
        """What takes long is worked out before anything is locked."""
        if facts.prepare is not None:
            self._ready = facts.prepare(self.person, self._given(facts))

    def _run(self, facts: Operation, handler: Callable[..., Any], named: Mapping[str, Any]) -> Response:
        given = self._given(facts) if self._ready is None else self._ready
        found = handler(given, **named)
        if facts.answer is None:
            return Response(status=facts.status)
        if facts.paged:
            return self._page(facts.answer, found, given)
        return Response(self._shown(facts.answer, found), status=facts.status)

    def _shown(self, answer: type[BaseSerializer[Any]], found: Any) -> Any:
        """One thing as it is shown."""
        with _serializers.ready(answer, self.get_serializer_context()) as serializer:
            return serializer.to_representation(found)

    def _given(self, facts: Operation) -> dict[str, Any]:
        """The parameters of the address and the body, checked."""
        context = self.get_serializer_context()
        given = facts.query.read(self.request.query_params, context)
        if self.request.method == "POST":
            self.request.body  # noqa: B018 - read before the parser takes the stream: the digest needs it
            with _serializers.ready(facts.body or Strict, context) as body:
                body.initial_data = self.request.data
                body.is_valid(raise_exception=True)
                given |= body.validated_data
        return given

    def _page(self, answer: type[BaseSerializer[Any]], queryset: Any, given: Mapping[str, Any]) -> Response:
        self.paginator.given = given  # type: ignore[union-attr]  # these are our `Pages`
        page = self.paginate_queryset(queryset)
        shown = answer(page, many=True, context=self.get_serializer_context())
        return self.get_paginated_response(shown.data)

    def _tagged(self, response: Response) -> Response:
        """The answer with its ETag, or 304 for somebody who has it already."""
        tag = f'"{hashlib.sha256(JSONRenderer().render(response.data)).hexdigest()[:32]}"'
        known = parse_etags(self.request.headers.get("If-None-Match", ""))
        # Compared weakly, as RFC 9110 (13.1.2) says.
        if "*" in known or tag in {each.removeprefix("W/") for each in known}:
            response = Response(status=304)
        response["ETag"] = tag
        return response

    def _key(self) -> str | None:
        key = self.request.headers.get("Idempotency-Key")
        if key is not None and not KEY.fullmatch(key):
            message = "1 to 200 printable ASCII characters without blanks."
            raise ValidationError({"Idempotency-Key": [ErrorDetail(message, code="invalid")]})
        return key

    def _once(self, key: str, prepare: Callable[[], None], run: Callable[[], Response]) -> Response:
        request = self.request
        answer = repeats.answer_once(
            person=self.person,
            key=key,
            digest=repeats.digest_of(
                method=request.method or "", path=request.get_full_path(), body=request.body
            ),
            prepare=prepare,
            act=functools.partial(self._act, run),
            refuse=self._refusal,
        )
        kind = problems.MEDIA_TYPE if answer.status_code >= 400 else None
        return Response(answer.body, status=answer.status_code, content_type=kind)

    def _act(self, run: Callable[[], Response]) -> Answer:
        with joining() as last:
            return replace(_answer(run()), last=last)

    def _refusal(self, error: Exception) -> Answer:
        """A refusal is kept as an answer; what broke is not."""
        response = self.handle_exception(error)
        if response.status_code >= 500:
            raise error
        return _answer(response)

    def finalize_response(self, request: Request, response: Any, *args: Any, **named: Any) -> Any:
        """What is shown is one person's view of the moment: no cache in between may keep it."""
        response = super().finalize_response(request, response, *args, **named)
        if "Cache-Control" not in response:
            patch_cache_control(response, private=True, no_cache=True)
        return response


def _answer(response: Response) -> Answer:
    """The response as plain JSON values, as it goes over the wire."""
    body = None if response.data is None else json.loads(JSONRenderer().render(response.data))
    return Answer(status_code=response.status_code, body=body)
