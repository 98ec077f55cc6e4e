"""Seats: what is sent, and how they are shown."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from scheduling.api.fields import InstantField, TextField, UidField, VersionField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.people import WhoSerializer
from scheduling.api.strict import Strict, require_order
from scheduling.models import Seat, SeatStatus, Session
from scheduling.selectors import plain, visible
from scheduling.selectors.seats import given_back_until
from scheduling.services.seating import LONGEST_NOTE
from studios.models import Person


class SessionField(UidField):
    """A session to sit in: looked up with every seat, so by a query that is put into SQL once."""

    def find(self, person: Person, text: str) -> Session | None:
        return plain.session_to_sit_in(person, UUID(text))


class KeepSeat(Strict):
    """A seat in a session (with a torch of its own, where it has torches), or a torch in open bench time."""

    session = SessionField(among=visible.sessions_of, what="session", required=False)
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


class BookKeptSeat(Strict):
    """What is said when a seat is booked."""

    note = TextField(
        required=False, allow_blank=True, max_length=LONGEST_NOTE, help_text="To the instructor, if anything."
    )
    acknowledged = VersionField(
        required=False,
        help_text="The version of the studio's safety text that you have read. It is asked once a term; the "
        "refusal `safety-unread` carries the text.",
    )


class ReserveSeat(KeepSeat, BookKeptSeat):
    """A seat to be reserved at once."""


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
    kept_until = serializers.SerializerMethodField(
        help_text="Of a kept seat: past this it is void. Book it before, or let it go."
    )
    currency = serializers.CharField(source="studio.currency", read_only=True)
    give_back_until = serializers.SerializerMethodField(
        help_text="Until when its person gives it back; later the studio does."
    )

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
            "kept_until",
            "kept_longer",
            "note",
            "price",
            "currency",
            "give_back_until",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields

    def get_kept_until(self, seat: Seat) -> dt.datetime | None:
        return seat.kept_until if seat.status == SeatStatus.KEPT else None

    def get_give_back_until(self, seat: Seat) -> dt.datetime:
        return given_back_until(seat)
