"""Outages and calendar links: what is sent, and how they are shown."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from rest_framework import serializers

from scheduling.api.fields import InstantField, MinutesField, SlugField, TextField, UidField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.strict import Strict, require_order
from scheduling.ical.event import EventKind
from scheduling.models import About, FeedForm, FeedKey, Outage
from scheduling.selectors import visible
from scheduling.selectors.calendar_events import ALARM_MIN
from studios.selectors import studios_of

KINDS = [(kind.value, kind.value) for kind in EventKind]


class EnterOutage(Strict):
    """Equipment that is out of use for a while."""

    equipment = UidField(among=visible.equipment_of, what="equipment")
    starts_at = InstantField()
    ends_at = InstantField()
    reason = TextField(max_length=120)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        require_order(attrs, "starts_at", "ends_at")
        return attrs


class OutageSerializer(serializers.ModelSerializer[Outage]):
    """Equipment is out of use."""

    equipment = EquipmentLineSerializer(read_only=True)

    class Meta:
        model = Outage
        fields = ["uid", "equipment", "starts_at", "ends_at", "reason"]
        read_only_fields = fields


class MakeFeedKey(Strict):
    """A secret calendar link to make."""

    # DRF's own attribute of this name is that of a field; this is a serializer's child.
    label = TextField(  # type: ignore[assignment]
        max_length=60, help_text="To know it by, such as the device it is for."
    )
    about = serializers.ChoiceField(
        choices=About.choices, default=About.PERSON, help_text="Your own week, or what happens at a studio."
    )
    studio = SlugField(
        among=studios_of, what="studio", required=False, help_text="Of a studio, and of its duties."
    )
    equipment = UidField(
        among=visible.equipment_of, what="equipment", required=False, help_text="Of a piece of equipment."
    )
    shows = serializers.ListField(
        child=serializers.ChoiceField(choices=KINDS), default=list, help_text="Only these; empty: all."
    )
    alarm_min = MinutesField(
        default=ALARM_MIN, allow_null=True, help_text="Minutes before a duty; null: no alarm."
    )

    def validate_about(self, value: str) -> About:
        return About(value)


class FeedKeySerializer(serializers.ModelSerializer[FeedKey]):
    """A secret calendar link: whoever has it reads the calendar."""

    studio = serializers.SlugRelatedField(slug_field="slug", read_only=True, allow_null=True)  # type: ignore[var-annotated]
    equipment = EquipmentLineSerializer(read_only=True, allow_null=True)
    shows = serializers.ListField(child=serializers.ChoiceField(choices=KINDS), read_only=True)
    link = serializers.SerializerMethodField(help_text="iCalendar, to subscribe to.")
    json_link = serializers.SerializerMethodField(help_text="The same as jCal.")
    free_busy_link = serializers.SerializerMethodField(help_text="Only the hours that are taken.")

    class Meta:
        model = FeedKey
        fields = [
            "uid",
            "label",
            "about",
            "studio",
            "equipment",
            "shows",
            "alarm_min",
            "link",
            "json_link",
            "free_busy_link",
            "created_at",
            "last_used_on",
        ]
        read_only_fields = fields

    def get_link(self, feed_key: FeedKey) -> str:
        return self._address(feed_key, FeedForm.ICALENDAR)

    def get_json_link(self, feed_key: FeedKey) -> str:
        return self._address(feed_key, FeedForm.JCAL)

    def get_free_busy_link(self, feed_key: FeedKey) -> str:
        return self._address(feed_key, FeedForm.FREE_BUSY)

    def _address(self, feed_key: FeedKey, form: FeedForm) -> str:
        path = reverse("feed-form", kwargs={"key": feed_key.key, "form": form})
        return str(self.context["request"].build_absolute_uri(path))
