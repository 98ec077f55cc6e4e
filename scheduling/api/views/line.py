"""Waiting lines: joined, left, and what they offer."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework.decorators import action

from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.line import JoinLine, WaitingPlaceSerializer
from scheduling.api.serializers.seats import BookKeptSeat
from scheduling.models import WaitingPlace
from scheduling.selectors.line import places_of, places_to_change
from scheduling.services.in_line import join_line, leave_line, take_offer
from studios.models import Person


class WaitingPlaceView(Resource):
    """Your places in the waiting lines of full classes."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=WaitingPlaceSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[WaitingPlace]:
        """Where you wait, and what you are offered, in order of time."""
        return places_of(person)

    @operation(answer=WaitingPlaceSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> WaitingPlace:
        """One place: yours, or one that you may give up for its person."""
        return _place(person, uid)

    @operation(answer=WaitingPlaceSerializer, status=201, body=JoinLine, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> WaitingPlace:
        """Join the line of a full session at its end; what comes free is offered in order."""
        return _place(person, join_line(actor=person, **given).uid)

    @action(detail=True, methods=["post"])
    @operation(answer=WaitingPlaceSerializer, repeatable=True, refuses=(409,))
    def leave(self, person: Person, _given: dict[str, Any], uid: UUID) -> WaitingPlace:
        """Leave a line, or decline what it offers; the next one is asked."""
        leave_line(actor=person, place=_place(person, uid))
        return _place(person, uid)

    @action(detail=True, methods=["post"])
    @operation(answer=WaitingPlaceSerializer, body=BookKeptSeat, repeatable=True, refuses=(409, 422))
    def take(self, person: Person, given: dict[str, Any], uid: UUID) -> WaitingPlace:
        """Take the seat that is offered, before its deadline."""
        take_offer(actor=person, place=_place(person, uid), **given)
        return _place(person, uid)


def _place(person: Person, uid: UUID) -> WaitingPlace:
    return get_object_or_404(places_to_change(person), uid=uid)
