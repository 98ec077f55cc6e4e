"""Other calendars: what is sent, and how they are shown. A link is a secret and never shown again."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from scheduling.api.fields import TextField
from scheduling.api.strict import Strict
from scheduling.models import OtherCalendar
from scheduling.selectors.other_calendars import host_of


class GiveCalendar(Strict):
    """A calendar that you keep elsewhere: its secret link, or what stands in its file."""

    # DRF's own attribute of this name is that of a field; this is a serializer's child.
    label = TextField(  # type: ignore[assignment]
        max_length=60, help_text="To know it by; only you see it."
    )
    link = TextField(
        max_length=1000,
        required=False,
        help_text="It begins with https://, http:// or webcal://, and is fetched soon, then every two hours "
        "or so, from public addresses only. It is shown to nobody again.",
    )
    content = TextField(
        required=False,
        help_text="A whole calendar as RFC 5545 writes it, up to 2.5 MB; a larger one goes through its page. "
        "It is read at once, whole or not at all.",
    )

    one_of = ("link", "content")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """One of the two."""
        if ("link" in attrs) == ("content" in attrs):
            message = "Send a link, or the content of a file, and not both."
            raise ValidationError({"link": [ErrorDetail(message, code="link-or-content")]})
        return attrs


class OtherCalendarSerializer(serializers.ModelSerializer[OtherCalendar]):
    """A calendar that you keep elsewhere, and the time that it takes of the next four weeks.

    `host`: where it is fetched from; empty for a file. `problem`: why the last reading failed; what was read
    last stays in force.
    """

    host = serializers.SerializerMethodField()
    busy_min = serializers.SerializerMethodField()

    class Meta:
        model = OtherCalendar
        fields = [
            "uid",
            "label",
            "host",
            "busy_min",
            "created_at",
            "read_at",
            "next_try_at",
            "failures",
            "problem",
        ]
        read_only_fields = fields

    def get_host(self, calendar: OtherCalendar) -> str:
        return host_of(calendar)

    def get_busy_min(self, calendar: OtherCalendar) -> int:
        return round(calendar.busy.total_seconds() / 60)  # type: ignore[attr-defined]  # annotated
