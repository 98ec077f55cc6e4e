"""How one endpoint is declared."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.serializers import BaseSerializer

from scheduling.api.strict import Nothing, Query, Strict
from studios.models import Person


@dataclass(frozen=True, kw_only=True)
class Operation:
    """What one endpoint takes and gives."""

    answer: type[BaseSerializer[Any]] | None
    status: int
    query: type[Query]
    body: type[Strict] | None
    paged: bool
    detail: bool
    repeatable: bool
    refuses: tuple[int, ...]
    prepare: Callable[[Person, dict[str, Any]], dict[str, Any]] | None


def operation(
    *,
    answer: type[BaseSerializer[Any]] | None = None,
    status: int = 200,
    query: type[Query] = Nothing,
    body: type[Strict] | None = None,
    paged: bool = False,
    detail: bool = False,
    repeatable: bool = False,
    refuses: tuple[int, ...] = (),
    prepare: Callable[[Person, dict[str, Any]], dict[str, Any]] | None = None,
) -> Callable[[Callable[..., Any]], Callable[..., HttpResponseBase]]:
    """Declare an endpoint: its handler gets who asks and what was sent, checked, and gives what is shown.

    `paged`: the handler gives a queryset in a stable order. `detail`: the answer has an ETag.
    `repeatable`: an Idempotency-Key is honoured. `refuses`: the statuses of its refusals, beyond those that
    any endpoint has. `prepare`: what takes long is worked out from what was sent, while nothing is locked,
    and the handler gets that.
    """
    facts = Operation(
        answer=answer,
        status=status,
        query=query,
        body=body,
        paged=paged,
        detail=detail,
        repeatable=repeatable,
        refuses=refuses,
        prepare=prepare,
    )

    def declare(handler: Callable[..., Any]) -> Callable[..., HttpResponseBase]:
        @functools.wraps(handler)
        def respond(view: Any, request: Request, **named: Any) -> HttpResponseBase:
            return view.respond(facts, functools.partial(handler, view, request.user), named)

        respond.operation = facts  # type: ignore[attr-defined]  # read by the schema
        return respond

    return declare
