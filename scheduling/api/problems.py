"""Every error leaves the API as a problem (RFC 9457): `application/problem+json`.

One table gives each refusal its status. A problem names its type, a title for the kind, a sentence for this
case (`detail`), where it happened (`instance`), a `code` a program can test, and in `errors` each field at
fault with the rule it breaks. What conflicts with the book adds `reasons`: each cause, and until when.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from http import HTTPStatus
from typing import Any

from django.core import exceptions as django_errors
from django.core.signals import got_request_exception
from django.db import OperationalError
from django.http import Http404, RawPostDataException, UnreadablePostError
from django.http.multipartparser import MultiPartParserError
from django.urls import reverse
from rest_framework import exceptions
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response

from scheduling.errors import (
    InvalidInput,
    KeyReused,
    NaiveTime,
    NoSuchWallTime,
    NotAllowed,
    NotQualified,
    SchedulingError,
    UnreadableCalendar,
)
from studios.errors import LehrbookError

MEDIA_TYPE = "application/problem+json"


class TooLarge(exceptions.APIException):
    """No request to this API needs so long a body."""

    status_code = 413
    default_code = "too-large"
    default_detail = "The body of the request is too large."


class TooBusy(exceptions.APIException):
    """So many write to the embedded database that this request did not get its turn; nothing was changed."""

    status_code = 503
    default_code = "too-busy"
    default_detail = "Too many write at the same time; nothing was changed. Send it again in a moment."
    wait = 5


STATUS_OF: dict[type[LehrbookError], int] = {
    InvalidInput: 400,
    NaiveTime: 400,
    NoSuchWallTime: 400,
    NotAllowed: 403,
    NotQualified: 403,
    KeyReused: 422,
    UnreadableCalendar: 422,
    SchedulingError: 409,  # any other refusal: the request conflicts with what is booked
    LehrbookError: 422,  # the thermal model cannot do what is asked
}
# In this order: a body that is too long is also a suspicious operation.
IN_OUR_TERMS: dict[type[Exception], Callable[[], exceptions.APIException]] = {
    Http404: exceptions.NotFound,
    django_errors.PermissionDenied: exceptions.PermissionDenied,
    django_errors.RequestDataTooBig: TooLarge,
    RawPostDataException: lambda: exceptions.UnsupportedMediaType("a form"),  # read before us
    django_errors.SuspiciousOperation: exceptions.ParseError,
    MultiPartParserError: exceptions.ParseError,
    UnreadablePostError: exceptions.ParseError,
}
# How SQLite says that a write waited too long for its turn.
LOCKED = "database is locked"
log = logging.getLogger(__name__)


def status_of(kind: type[LehrbookError]) -> int:
    """The status of a refusal: its own in the table, or that of the nearest kind above it."""
    return next(STATUS_OF[base] for base in kind.__mro__ if base in STATUS_OF)


def handle(error: Exception, context: Mapping[str, Any]) -> Response:
    """DRF's exception handler: any error at all becomes a problem."""
    request = context["request"]
    # A problem is JSON, also where the view would have rendered something else.
    request.accepted_renderer, request.accepted_media_type = JSONRenderer(), MEDIA_TYPE
    body = describe(error, request)
    body["instance"] = request.path
    response = Response(body, status=body["status"], content_type=MEDIA_TYPE)
    if header := getattr(error, "auth_header", None):
        response["WWW-Authenticate"] = header
    if wait := getattr(_as_api_error(error), "wait", None):
        response["Retry-After"] = str(int(wait) + 1)
    return response


def describe(error: Exception, request: Any) -> dict[str, Any]:
    """The members of the problem, without the place where it happened."""
    if isinstance(error, LehrbookError):
        return _refusal(error)
    error = _as_api_error(error)
    if isinstance(error, exceptions.ValidationError):
        return _invalid(list(_flatten(error.detail)))
    if isinstance(error, exceptions.APIException):
        return problem(status=error.status_code, code=_hyphened(_code_of(error)), detail=str(error.detail))
    log.error("%s %s failed", request.method, request.path, exc_info=error)
    got_request_exception.send(sender=handle, request=request._request)  # noqa: SLF001 - DRF wraps it there
    return problem(status=500, code="server-error", detail="Something broke here; nothing was changed.")


def problem(
    *, status: int, code: str, detail: str, title: str = "", errors: Sequence[Any] = ()
) -> dict[str, Any]:
    """The members that every problem has."""
    return {
        "type": reverse("api:problem-detail", args=[code]),
        "title": title or HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "instance": "",
        "code": code,
        "errors": list(errors),
    }


def field_error(field: str, code: str, detail: str) -> dict[str, str]:
    """One field at fault, the rule it breaks, and what to do."""
    return {"field": field, "code": _hyphened(code), "detail": detail}


def title_of(kind: type[Exception]) -> str:
    """The kind of refusal in a few words: how its docstring begins."""
    text = (kind.__dict__.get("__doc__") or kind.__name__).strip().splitlines()[0]
    return text.partition(";")[0].rstrip(".")


def _refusal(error: LehrbookError) -> dict[str, Any]:
    errors = [field_error(error.field, error.code, str(error))] if error.field else []
    found = problem(
        status=status_of(type(error)),
        code=error.code,
        detail=str(error),
        title=title_of(type(error)),
        errors=errors,
    )
    if "reasons" in error.facts:
        found["reasons"] = error.facts["reasons"]
    if "safety_text" in error.facts:
        found["safety_text"] = error.facts["safety_text"]
    return found


def _invalid(errors: list[dict[str, str]]) -> dict[str, Any]:
    first = errors[0]
    detail = f"{first['field']}: {first['detail']}" if first["field"] else first["detail"]
    return problem(
        status=400, code="invalid-input", detail=detail, title=title_of(InvalidInput), errors=errors
    )


def _as_api_error(error: Exception) -> Exception:
    """Django's own refusals, in the terms of the API."""
    if isinstance(error, django_errors.ValidationError):
        return exceptions.ValidationError(_messages(error))
    if isinstance(error, OperationalError) and LOCKED in str(error):
        return TooBusy()
    return next((ours() for kind, ours in IN_OUR_TERMS.items() if isinstance(error, kind)), error)


def _messages(error: django_errors.ValidationError) -> Any:
    return error.message_dict if hasattr(error, "error_dict") else error.messages


def _flatten(detail: Any, path: str = "") -> Iterator[dict[str, str]]:
    """Every message with the dotted path of the field it is about."""
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            step = "" if name == "non_field_errors" else str(name)
            yield from _flatten(inner, ".".join(part for part in (path, step) if part))
    elif isinstance(detail, Sequence) and not isinstance(detail, str):
        for inner in detail:
            yield from _flatten(inner, path)
    else:
        yield field_error(path, getattr(detail, "code", None) or "invalid", str(detail))


def _code_of(error: exceptions.APIException) -> str:
    return getattr(error.detail, "code", None) or error.default_code


def _hyphened(code: str) -> str:
    return code.replace("_", "-")
