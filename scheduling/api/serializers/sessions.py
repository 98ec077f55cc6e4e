"""Sessions: what is sent, and how they are shown."""

from __future__ import annotations

import datetime as dt
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from scheduling.api.fields import InstantField, SlugField, UidField
from scheduling.api.serializers.firings import (
    EquipmentLineSerializer,
    FiringHeldSerializer,
    OccupancySerializer,
)
from scheduling.api.serializers.people import PersonLineSerializer, WhoSerializer
from scheduling.api.strict import Strict
from scheduling.models import Seat, Session
from scheduling.selectors import visible
from scheduling.selectors.least import below_least
from scheduling.selectors.seats import seat_given_back_until
from studios.selectors import studios_of


class BookSession(Strict):
    """A session to book; every hour of its equipment is worked out."""

    course = SlugField(among=visible.courses_of, what="course")
    studio = SlugField(among=studios_of, what="studio")
    starts_at = InstantField(help_text="When the class begins; lighting and set-up come before.")
    instructor = UidField(
        among=visible.instructors_of, what="instructor", required=False, help_text="Left out: yourself."
    )


class SeatLineSerializer(serializers.ModelSerializer[Seat]):
    """Who sits where in a session, for those who may see names."""

    torch = EquipmentLineSerializer(read_only=True, allow_null=True)
    person = WhoSerializer(read_only=True)

    class Meta:
        model = Seat
        fields = ["uid", "number", "torch", "person", "status"]
        read_only_fields = fields


class SessionLineSerializer(serializers.ModelSerializer[Session]):
    """One meeting of a course."""

    course = serializers.SlugField(source="course.slug", read_only=True)
    name = serializers.CharField(source="course.name", read_only=True)
    studio = serializers.SlugField(source="studio.slug", read_only=True)
    time_zone = serializers.CharField(source="studio.time_zone", read_only=True)
    instructor = PersonLineSerializer(read_only=True)
    assistants = PersonLineSerializer(many=True, read_only=True)
    series = serializers.UUIDField(
        source="series.uid",
        default=None,
        allow_null=True,
        read_only=True,
        help_text="The weekly class it belongs to, if any.",
    )
    seats_taken = serializers.IntegerField(read_only=True)
    least_seats = serializers.IntegerField(source="course.min_seats", read_only=True)
    below_least = serializers.SerializerMethodField(
        help_text="Its decision day has come, with fewer seats booked than it needs."
    )
    waiting = serializers.IntegerField(read_only=True, help_text="How many stand in its waiting line.")
    price = serializers.DecimalField(
        source="course.price",
        max_digits=8,
        decimal_places=2,
        allow_null=True,
        read_only=True,
        help_text="Of a seat that is reserved now; null: none is asked.",
    )
    currency = serializers.CharField(source="studio.currency", read_only=True)
    give_back_until = serializers.SerializerMethodField(
        help_text="Until when a student gives a seat back that is reserved now; later the studio does."
    )

    class Meta:
        model = Session
        fields = [
            "uid",
            "course",
            "name",
            "studio",
            "time_zone",
            "instructor",
            "assistants",
            "series",
            "starts_at",
            "ends_at",
            "seats",
            "seats_taken",
            "least_seats",
            "below_least",
            "waiting",
            "price",
            "currency",
            "give_back_until",
            "status",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields

    def get_below_least(self, session: Session) -> bool:
        return below_least(session, session.seats_booked)  # type: ignore[attr-defined]  # by the selector

    def get_give_back_until(self, session: Session) -> dt.datetime:
        return seat_given_back_until(session)


class SessionSerializer(SessionLineSerializer):
    """A session with everything it holds: its own equipment, and the firings that its pieces lie in."""

    booking = serializers.UUIDField(source="booking.uid", read_only=True)
    held = OccupancySerializer(source="booking.occupancies", many=True, read_only=True)
    firings = serializers.SerializerMethodField()
    taken = SeatLineSerializer(source="seat_rows", many=True, read_only=True)

    class Meta(SessionLineSerializer.Meta):
        fields = [*SessionLineSerializer.Meta.fields, "booking", "held", "firings", "taken"]
        read_only_fields = fields

    @extend_schema_field(FiringHeldSerializer(many=True))
    def get_firings(self, session: Session) -> list[Any]:
        firings = [load.firing for load in session.loads.all()]
        return list(FiringHeldSerializer(firings, many=True, context=self.context).data)
