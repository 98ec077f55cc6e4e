"""Requests say nothing that would be ignored: an unknown name is refused, in a body and in an address."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db.models import Q
from django.http import QueryDict
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from scheduling.api.fields import InstantField


class Strict(serializers.Serializer[Any]):
    """The body of a request; every name in it must be known. Of `one_of` exactly one is sent."""

    one_of: tuple[str, ...] = ()

    def to_internal_value(self, data: Any) -> Any:
        unknown = self._unknown(data)
        try:
            given = super().to_internal_value(data)
        except ValidationError as error:
            if isinstance(error.detail, dict):
                raise ValidationError({**error.detail, **unknown}) from error
            raise
        if unknown:
            raise ValidationError(unknown)
        return given

    def _unknown(self, data: Any) -> dict[str, list[ErrorDetail]]:
        if not isinstance(data, Mapping):
            return {}
        names = sorted(str(name) for name in data if name not in self.fields)
        known = ", ".join(self.fields) or "none"
        return {name: [ErrorDetail(f"Unknown; known here: {known}.", code="unknown-name")] for name in names}


class Query(Strict):
    """The part of an address after the question mark; a name stands once unless it takes a list."""

    @classmethod
    def read(cls, parameters: QueryDict, context: dict[str, Any]) -> dict[str, Any]:
        """The parameters, checked; refuses with 400 what is unknown, doubled or malformed."""
        query = cls(data={}, context=context)
        query.initial_data = {name: query.values_of(name, parameters) for name in parameters}
        query.is_valid(raise_exception=True)
        return dict(query.validated_data)

    def values_of(self, name: str, parameters: QueryDict) -> Any:
        """The text of a parameter, or all its texts where it takes a list."""
        values = parameters.getlist(name)
        if isinstance(self.fields.get(name), serializers.ListField):
            return values
        if len(values) > 1:
            raise ValidationError({name: [ErrorDetail("Say this once.", code="repeated")]})
        if "\0" in values[0]:
            raise ValidationError({name: [ErrorDetail("No NUL characters.", code="unstorable-text")]})
        return values[0]


class Nothing(Query):
    """A query that takes no parameter: any that is sent is refused."""

    @classmethod
    def read(cls, parameters: QueryDict, context: dict[str, Any]) -> dict[str, Any]:
        return super().read(parameters, context) if parameters else {}


def require_order(attrs: dict[str, Any], first: str, last: str) -> None:
    """The end comes after the start."""
    if first in attrs and last in attrs and attrs[last] <= attrs[first]:
        message = f"{last} must be later than {first}."
        raise ValidationError({last: [ErrorDetail(message, code="end-after-start")]})


class Window(Query):
    """What touches the stretch of time from `from` (included) to `to` (not included)."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        # `from` is a word of the language, so that the fields cannot be class attributes.
        window = {
            "from": InstantField(required=False, help_text="Only what ends after this instant."),
            "to": InstantField(required=False, help_text="Only what starts before this instant."),
        }
        return {**super().get_fields(), **window}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        require_order(attrs, "from", "to")
        return attrs


class NeededWindow(Window):
    """A stretch of time that must be given, and not be longer than `longest`."""

    longest = dt.timedelta(days=62)

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        fields = super().get_fields()
        fields["from"].required = fields["to"].required = True
        return fields

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs = super().validate(attrs)
        if attrs["to"] - attrs["from"] > self.longest:
            message = f"Ask for at most {self.longest.days} days at once."
            raise ValidationError({"to": [ErrorDetail(message, code="too-long")]})
        return attrs


def touching(given: Mapping[str, Any], *, starts: str = "starts_at", ends: str = "ends_at") -> Q:
    """What touches the window that was given; half-open, so that what ends as it opens lies outside."""
    found = Q()
    if "from" in given:
        found &= Q(**{f"{ends}__gt": given["from"]})
    if "to" in given:
        found &= Q(**{f"{starts}__lt": given["to"]})
    return found
