"""The few kinds of value that requests carry, each with one way to write it."""

from __future__ import annotations

import datetime as dt
import math
import re
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any

from django.db.models import Model, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from studios.models import Person

# Clocks and the engine's minutes hold far more; a booking outside these years is a slip of the pen.
FIRST_YEAR, LAST_YEAR = 2000, 2199
UID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)
SLUG_PATTERN = "^[-a-zA-Z0-9_]{1,40}$"
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
DAY_PATTERN = "^2[01][0-9]{2}-[0-9]{2}-[0-9]{2}$"
CLOCK_PATTERN = "^([01][0-9]|2[0-3]):[0-5][0-9]$"
INSTANT_PATTERN = (
    r"^2[01][0-9]{2}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:00(\.0+)?([Zz]|[+-][0-9]{2}:[0-9]{2})$"
)
TEXT_PATTERN = r"^[^\u0000]*$"
INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}(?P<seconds>:[0-9]{2}(\.[0-9]+)?)?"
    r"(?P<offset>[Zz]|[+-][0-9]{2}:[0-9]{2})?"
)


@extend_schema_field({"type": "string", "format": "date-time", "pattern": INSTANT_PATTERN})
class InstantField(serializers.Field):
    """An instant on a whole minute: RFC 3339 with its offset, such as 2026-03-01T18:00:00-06:00."""

    default_error_messages = {
        "invalid": "Write an instant as 2026-03-01T18:00:00-06:00 (RFC 3339; in an address + is %2B).",
        "naive-time": "A time means an instant only with its offset: add one, such as -06:00 or Z.",
        "whole-minute": "Times are on whole minutes: the seconds must be zero.",
        "out-of-range": f"The year must lie between {FIRST_YEAR} and {LAST_YEAR}.",
    }

    def to_internal_value(self, data: Any) -> dt.datetime:
        form = INSTANT.fullmatch(data) if isinstance(data, str) else None
        if form is None:
            self.fail("invalid")
        if form["offset"] is None:
            self.fail("naive-time")
        if (form["seconds"] or "").strip(":0."):
            self.fail("whole-minute")
        return self._in_range(data)

    def _in_range(self, text: str) -> dt.datetime:
        try:
            instant = dt.datetime.fromisoformat(text.upper()).astimezone(dt.UTC)
        except OverflowError:
            self.fail("out-of-range")
        except ValueError:
            self.fail("invalid")
        if not FIRST_YEAR <= instant.year <= LAST_YEAR:
            self.fail("out-of-range")
        return instant

    def to_representation(self, value: dt.datetime) -> str:
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")


@extend_schema_field({"type": "string", "format": "date", "pattern": DAY_PATTERN})
class DayField(serializers.Field):
    """A day by the studio's calendar, such as 2026-03-01."""

    default_error_messages = {
        "invalid": "Write a day as 2026-03-01.",
        "out-of-range": f"The year must lie between {FIRST_YEAR} and {LAST_YEAR}.",
    }

    def to_internal_value(self, data: Any) -> dt.date:
        if not (isinstance(data, str) and DAY.fullmatch(data)):
            self.fail("invalid")
        try:
            day = dt.date.fromisoformat(data)
        except ValueError:
            self.fail("invalid")
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            self.fail("out-of-range")
        return day

    def to_representation(self, value: dt.date) -> str:
        return value.isoformat()


@extend_schema_field({"type": "string", "pattern": CLOCK_PATTERN})
class WallClockField(serializers.Field):
    """A time of day by the studio's clock, such as 18:30."""

    default_error_messages = {"invalid": "Write a time of day as 18:30."}

    def to_internal_value(self, data: Any) -> dt.time:
        if not (isinstance(data, str) and re.fullmatch(CLOCK_PATTERN.strip("^$"), data)):
            self.fail("invalid")
        return dt.time.fromisoformat(data)

    def to_representation(self, value: dt.time) -> str:
        return value.strftime("%H:%M")


@extend_schema_field({"type": "boolean"})
class FlagField(serializers.Field):
    """Yes or no in an address: true or false."""

    default_error_messages = {"invalid": "Say true or false."}

    def to_internal_value(self, data: Any) -> bool:
        if data not in ("true", "false"):
            self.fail("invalid")
        return bool(data == "true")

    def to_representation(self, value: bool) -> bool:  # noqa: FBT001 - DRF's signature
        return value


@extend_schema_field({"type": "boolean"})
class TruthField(serializers.Field):
    """True or false in a body, and nothing that merely looks like it."""

    default_error_messages = {"invalid": "Say true or false."}

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid")
        return data

    def to_representation(self, value: bool) -> bool:  # noqa: FBT001 - DRF's signature
        return value


class NumberField(serializers.FloatField):
    """A number in a body; no text is taken for one, nor what is too large to be reckoned with."""

    default_error_messages = {"invalid": "Write a number."}

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("invalid")
        try:
            number = float(data)
        except OverflowError:
            self.fail("invalid")
        if not math.isfinite(number):
            self.fail("invalid")
        return number


@extend_schema_field({"type": "integer", "minimum": 1})
class VersionField(serializers.Field):
    """The version of a text: a whole number (also as 2.0), and nothing that merely looks like it."""

    default_error_messages = {"invalid": "Write the version as a whole number."}

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int | float) or data < 1 or data % 1:
            self.fail("invalid")
        return int(data)

    def to_representation(self, value: int) -> int:
        return value


@extend_schema_field({"type": "integer", "minimum": 0, "maximum": 1440})
class MinutesField(serializers.Field):
    """Minutes of a day: a whole number (also as 30.0), and nothing that merely looks like it."""

    default_error_messages = {"invalid": "Write whole minutes, from 0 to 1440."}

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int | float) or not 0 <= data <= 1440 or data % 1:
            self.fail("invalid")
        return int(data)

    def to_representation(self, value: int) -> int:
        return value


class WholeField(serializers.IntegerField):
    """A whole number in a body (also as 12.0), and nothing that merely looks like it."""

    default_error_messages = {"invalid": "Write a whole number."}

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int | float) or data % 1:
            self.fail("invalid")
        return int(data)


class CountField(serializers.IntegerField):
    """A whole number in an address, in plain digits."""

    def to_internal_value(self, data: Any) -> int:
        if not re.fullmatch("[0-9]{1,9}", str(data)):
            self.fail("invalid")
        return super().to_internal_value(data)


class TextField(serializers.CharField):
    """Text as it is sent: no number is taken for it, and nothing is trimmed before its length is measured."""

    def __init__(self, **facts: Any) -> None:
        super().__init__(trim_whitespace=False, **facts)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return str(super().to_internal_value(data))


class ReferenceField(serializers.Field, ABC):
    """A thing named by its public id, among those that the person may see; others do not exist for them."""

    default_error_messages = {
        "invalid": "{what} is named by its {named_by}.",
        "does-not-exist": "You can see no {what} with this {named_by}.",
    }
    key = ""

    def __init__(self, *, among: Callable[[Person], QuerySet[Any]], what: str, **facts: Any) -> None:
        self.among, self.what = among, what
        super().__init__(**facts)

    @abstractmethod
    def well_formed(self, text: str) -> bool:
        """Whether the text can be such an id at all."""

    def to_internal_value(self, data: Any) -> Model:
        if not (isinstance(data, str) and self.well_formed(data)):
            self.fail("invalid", what=self.what, named_by=self.key)
        found = self.find(self.context["request"].user, data)
        if found is None:
            self.fail("does-not-exist", what=self.what, named_by=self.key)
        return found

    def find(self, person: Person, text: str) -> Model | None:
        """The thing of that id among those that the person may see."""
        return self.among(person).filter(**{self.key: text}).first()

    def to_representation(self, value: Any) -> str:
        return str(getattr(value, self.key))


@extend_schema_field({"type": "string", "format": "uuid"})
class UidField(ReferenceField):
    """A reference by uid."""

    key = "uid"

    def well_formed(self, text: str) -> bool:
        return UID.fullmatch(text) is not None


@extend_schema_field({"type": "string", "pattern": SLUG_PATTERN})
class SlugField(ReferenceField):
    """A reference by slug."""

    key = "slug"

    def well_formed(self, text: str) -> bool:
        return re.fullmatch(SLUG_PATTERN.strip("^$"), text) is not None
