"""The roster of a class, and seats by whether they are paid."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.people import PersonLineSerializer
from scheduling.models import LineStatus, Seat
from scheduling.selectors.roster import Roster, RosterLine, RosterWaiting


class PaidSeatSerializer(serializers.ModelSerializer[Seat]):
    """A seat with its price and its paid mark."""

    person = PersonLineSerializer(read_only=True)
    studio = serializers.SlugField(source="studio.slug", read_only=True)
    session = serializers.UUIDField(source="session.uid", default=None, allow_null=True, read_only=True)
    torch = EquipmentLineSerializer(read_only=True, allow_null=True)
    currency = serializers.CharField(source="studio.currency", read_only=True)
    paid_noted_by = PersonLineSerializer(read_only=True, allow_null=True)

    class Meta:
        model = Seat
        fields = [
            "uid",
            "person",
            "studio",
            "session",
            "number",
            "torch",
            "starts_at",
            "status",
            "price",
            "currency",
            "paid_at",
            "paid_noted_by",
            "changed_at",
        ]
        read_only_fields = fields


class RosterLineSerializer(serializers.Serializer[RosterLine]):
    """Somebody who sits in a class."""

    seat = serializers.UUIDField(source="seat.uid", read_only=True)
    number = serializers.IntegerField(source="seat.number", read_only=True)
    torch = EquipmentLineSerializer(source="seat.torch", read_only=True, allow_null=True)
    person = PersonLineSerializer(source="seat.person", read_only=True)
    email = serializers.CharField(
        read_only=True, help_text="Empty for readers who do not reserve for others there."
    )
    note = serializers.CharField(source="seat.note", read_only=True)
    price = serializers.DecimalField(
        source="seat.price", max_digits=8, decimal_places=2, read_only=True, allow_null=True
    )
    paid_at = serializers.DateTimeField(source="seat.paid_at", read_only=True, allow_null=True)
    safety_read = serializers.BooleanField(
        read_only=True, allow_null=True, help_text="null: the studio has no safety text."
    )


class RosterWaitingSerializer(serializers.Serializer[RosterWaiting]):
    """Somebody in the line behind it."""

    number = serializers.IntegerField(read_only=True)
    place = serializers.UUIDField(source="place.uid", read_only=True)
    person = PersonLineSerializer(source="place.person", read_only=True)
    email = serializers.CharField(read_only=True)
    status = serializers.ChoiceField(source="place.status", choices=LineStatus.choices, read_only=True)
    offered_until = serializers.DateTimeField(
        source="place.seat.kept_until", read_only=True, default=None, allow_null=True
    )


class RosterSerializer(serializers.Serializer[Roster]):
    """Everybody who comes to a class, and everybody who waits for it."""

    session = serializers.UUIDField(source="session.uid", read_only=True)
    name = serializers.CharField(source="session.course.name", read_only=True)
    studio = serializers.SlugField(source="session.studio.slug", read_only=True)
    time_zone = serializers.CharField(source="session.studio.time_zone", read_only=True)
    starts_at = serializers.DateTimeField(source="session.starts_at", read_only=True)
    seats = serializers.IntegerField(source="session.seats", read_only=True)
    least_seats = serializers.IntegerField(source="session.course.min_seats", read_only=True)
    below_least = serializers.BooleanField(
        read_only=True, help_text="Its decision day has come, with too few seats booked."
    )
    taken: Any = RosterLineSerializer(source="lines", many=True, read_only=True)
    waiting: Any = RosterWaitingSerializer(many=True, read_only=True)
