"""Sessions and seats: what is sent, and how they are shown."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from scheduling.api.fields import InstantField, SlugField, UidField
from scheduling.api.serializers.firings import (
    EquipmentLineSerializer,
    FiringHeldSerializer,
    OccupancySerializer,
)
from scheduling.api.serializers.people import PersonLineSerializer, WhoSerializer
from scheduling.api.strict import Strict, require_order
from scheduling.models import Seat, Session
from scheduling.selectors import visible
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
        fields = ["uid", "number", "torch", "person"]
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
            "status",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields


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


class ReserveSeat(Strict):
    """A seat in a session (with a torch of its own, where it has torches), or a torch in open bench time."""

    session = UidField(among=visible.sessions_of, what="session", required=False)
    torch = UidField(among=visible.torches_of, what="torch", required=False)
    starts_at = InstantField(required=False, help_text="Open bench time only.")
    ends_at = InstantField(required=False, help_text="Open bench time only.")
    person = UidField(
        among=visible.fellows_of, what="person", required=False, help_text="For whom. Left out: yourself."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Either a session, or a torch with both times."""
        times = ("starts_at", "ends_at")
        if "session" in attrs:
            _refuse(attrs, times, "A session has its own times; leave this out.", "not-with-session")
        else:
            missing = {name: True for name in ("torch", *times) if name not in attrs}
            _refuse(missing, tuple(missing), "Without a session: torch, starts_at and ends_at.", "required")
        require_order(attrs, *times)
        return attrs


def _refuse(attrs: dict[str, Any], names: tuple[str, ...], message: str, code: str) -> None:
    found = {name: [ErrorDetail(message, code=code)] for name in names if name in attrs}
    if found:
        raise ValidationError(found)


class SeatSerializer(serializers.ModelSerializer[Seat]):
    """A seat: in a session, or at a torch in open bench time."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)
    time_zone = serializers.CharField(source="studio.time_zone", read_only=True)
    session = serializers.UUIDField(source="session.uid", default=None, allow_null=True, read_only=True)
    name = serializers.CharField(
        source="session.course.name",
        default=None,
        allow_null=True,
        read_only=True,
        help_text="Of the course.",
    )
    torch = EquipmentLineSerializer(read_only=True, allow_null=True)
    person = WhoSerializer(read_only=True)

    class Meta:
        model = Seat
        fields = [
            "uid",
            "person",
            "studio",
            "time_zone",
            "session",
            "name",
            "torch",
            "number",
            "starts_at",
            "ends_at",
            "status",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields
