"""The roster of a class, and the paid mark."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404
from rest_framework.decorators import action

from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.roster import PaidSeatSerializer, RosterSerializer
from scheduling.models import Seat
from scheduling.selectors.payments import given_back_paid, seats_to_mark
from scheduling.selectors.roster import Roster, roster_of
from scheduling.services.payments import mark_paid, require_marker, unmark_paid
from studios.models import Person


class RosterView(Resource):
    """Who comes to the classes at studios where you see names."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=RosterSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Roster:
        """The roster of one session, by the session's uid."""
        roster = roster_of(uid=uid, person=person)
        if roster is None:
            raise Http404
        return roster


class PaidSeatView(Resource):
    """The paid mark of seats, at studios where you set it. No money moves here."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=PaidSeatSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[Seat]:
        """Seats that were given back, or called off, after they were paid; the oldest first."""
        require_marker(person)
        return given_back_paid(person)

    @action(detail=True, methods=["post"])
    @operation(answer=PaidSeatSerializer, repeatable=True, refuses=(409,))
    def mark(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """Mark a booked seat as paid."""
        return mark_paid(actor=person, seat=_seat(person, uid))

    @action(detail=True, methods=["post"])
    @operation(answer=PaidSeatSerializer, repeatable=True, refuses=(409,))
    def unmark(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """Take the mark back: it was set in error, or the money was paid back."""
        return unmark_paid(actor=person, seat=_seat(person, uid))


def _seat(person: Person, uid: UUID) -> Seat:
    return get_object_or_404(seats_to_mark(person), uid=uid)
