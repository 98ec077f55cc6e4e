"""Waiting lines: what is sent, and how a place in one is shown."""

from __future__ import annotations

import datetime as dt

from rest_framework import serializers

from scheduling.api.fields import UidField
from scheduling.api.serializers.people import WhoSerializer
from scheduling.api.strict import Strict
from scheduling.models import IN_LINE, LineStatus, WaitingPlace
from scheduling.selectors import visible


class JoinLine(Strict):
    """The session whose line is joined, and by whom."""

    session = UidField(among=visible.sessions_of, what="session")
    person = UidField(
        among=visible.fellows_of, what="person", required=False, help_text="For whom. Left out: yourself."
    )


class WaitingPlaceSerializer(serializers.ModelSerializer[WaitingPlace]):
    """A place in the waiting line of a session."""

    session = serializers.UUIDField(source="session.uid", read_only=True)
    name = serializers.CharField(source="session.course.name", read_only=True, help_text="Of the course.")
    studio = serializers.SlugField(source="session.studio.slug", read_only=True)
    time_zone = serializers.CharField(source="session.studio.time_zone", read_only=True)
    starts_at = serializers.DateTimeField(source="session.starts_at", read_only=True)
    person = WhoSerializer(read_only=True, studio="session.studio_id")
    number = serializers.SerializerMethodField(
        help_text="From the head of the line; null for whoever is out of it."
    )
    seat = serializers.SerializerMethodField(help_text="The uid of the seat that is offered, or was taken.")
    offered_until = serializers.SerializerMethodField(help_text="Of an offer: past this it is void.")

    class Meta:
        model = WaitingPlace
        fields = [
            "uid",
            "session",
            "name",
            "studio",
            "time_zone",
            "starts_at",
            "person",
            "status",
            "number",
            "joined_at",
            "seat",
            "offered_until",
        ]
        read_only_fields = fields

    def get_number(self, place: WaitingPlace) -> int | None:
        stands = place.status in IN_LINE
        return getattr(place, "number", None) if stands else None

    def get_seat(self, place: WaitingPlace) -> str | None:
        return str(place.seat.uid) if place.seat else None

    def get_offered_until(self, place: WaitingPlace) -> dt.datetime | None:
        return place.seat.kept_until if place.seat and place.status == LineStatus.OFFERED else None
