"""The OpenAPI 3.1 description, made from what the endpoints declare."""

from __future__ import annotations

from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse

from scheduling.api.fields import TEXT_PATTERN, TextField
from scheduling.api.operations import Operation
from scheduling.api.paging import PageQuery
from scheduling.api.problems import MEDIA_TYPE
from scheduling.api.serializers.problems import ProblemSerializer
from scheduling.api.strict import Nothing, Strict

IDEMPOTENCY_KEY = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "pattern": "^[!-~]{1,200}$"},
    OpenApiParameter.HEADER,
    description="A name of your own for this request. Sent again with it, the request is answered as the "
    "first time and carried out once. Kept for 48 hours.",
)
IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag of what you have: 304 if it still holds.",
)
ETAG = OpenApiParameter("ETag", str, OpenApiParameter.HEADER, response=[200, 304], description="Its version.")
MEANING = {
    304: "What you have still holds.",
    400: "Something sent is malformed; `errors` names each field and its rule.",
    401: "Not signed in.",
    403: "Your role there does not allow it, or a cookie came without its CSRF token.",
    404: "There is no such thing, or you cannot see it.",
    406: "Answers are JSON.",
    409: "It conflicts with what is booked; `detail` says with what, and until when.",
    413: "The body is too large.",
    415: "Bodies are JSON.",
    422: "It cannot be done as asked.",
    429: "Too many attempts; wait as `Retry-After` says.",
}


class Description(AutoSchema):
    """Reads the declaration of an endpoint (`resource.operation`)."""

    @property
    def facts(self) -> Operation:
        """What the endpoint declares."""
        handler = getattr(self.view, getattr(self.view, "action", None) or self.method.lower())
        return handler.operation

    def get_override_parameters(self) -> list[Any]:
        facts = self.facts
        found: list[Any] = [] if facts.query is Nothing else [facts.query]
        if facts.repeatable:
            found.append(IDEMPOTENCY_KEY)
        if facts.detail:
            found += [IF_NONE_MATCH, ETAG]
        return found

    def get_request_serializer(self) -> Any:
        return self.facts.body

    def get_response_serializers(self) -> Any:
        facts = self.facts
        answer = facts.answer(many=True) if facts.answer and facts.paged else facts.answer
        found: dict[Any, Any] = {facts.status: answer or OpenApiResponse(description="Done.")}
        if facts.detail:
            found[304] = OpenApiResponse(description=MEANING[304])
        for status in sorted(self._refusals(facts)):
            found[status, MEDIA_TYPE] = OpenApiResponse(ProblemSerializer, description=MEANING[status])
        return found

    def _refusals(self, facts: Operation) -> set[int]:
        """The statuses that any endpoint of this form can refuse with, and those it declares."""
        found = {400, 406, *facts.refuses}
        if self.view.authentication_classes:
            found |= {401, 403}
        if self.method == "POST":
            found |= {413, 415}
        if facts.repeatable:
            found |= {409, 422}
        if "{" in self.path:
            found.add(404)
        return found

    def get_auth(self) -> list[Any]:
        return super().get_auth() if self.view.authentication_classes else []

    def _is_list_view(self, serializer: Any = None) -> bool:  # noqa: ARG002 - the library's signature
        return self.facts.paged

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        """A body or a query takes the names it has and no other."""
        schema = super()._map_basic_serializer(serializer, direction)
        if isinstance(serializer, Strict) and not isinstance(serializer, PageQuery):
            schema["additionalProperties"] = False
            if serializer.one_of:
                schema["oneOf"] = [{"required": [name]} for name in serializer.one_of]
        return schema

    def _map_serializer_field(self, field: Any, direction: Any, bypass_extensions: bool = False) -> Any:  # noqa: FBT001, FBT002 - the library's signature
        """Text that is sent has no NUL character in it, and is not empty unless it may be."""
        schema = super()._map_serializer_field(field, direction, bypass_extensions)
        if isinstance(field, TextField):
            shortest = {} if field.allow_blank else {"minLength": 1}
            schema = {**schema, "pattern": TEXT_PATTERN, **shortest}
        return schema
