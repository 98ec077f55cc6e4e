"""Outages and calendar links: what is sent, and how they are shown."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from rest_framework import serializers

from scheduling.api.fields import InstantField, TextField, UidField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.strict import Strict, require_order
from scheduling.models import FeedKey, Outage
from scheduling.selectors import visible


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


class FeedKeySerializer(serializers.ModelSerializer[FeedKey]):
    """A secret calendar link: whoever has it reads the calendar."""

    link = serializers.SerializerMethodField()

    class Meta:
        model = FeedKey
        fields = ["uid", "label", "link", "created_at", "last_used_on"]
        read_only_fields = fields

    def get_link(self, feed_key: FeedKey) -> str:
        return str(self.context["request"].build_absolute_uri(reverse("feed", args=[feed_key.key])))
