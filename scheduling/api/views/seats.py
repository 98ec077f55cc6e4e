"""Seats: one's own, reserved and given up."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action

from scheduling.api.fields import SlugField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.sessions import ReserveSeat, SeatSerializer
from scheduling.api.strict import Window, touching
from scheduling.models import BookingStatus, Seat
from scheduling.selectors import visible
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Person
from studios.selectors import studios_of


class SeatQuery(Window, PageQuery):
    """Which of your seats."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    status = serializers.ChoiceField(choices=BookingStatus.choices, required=False)


class SeatView(Resource):
    """Your seats."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=SeatSerializer, query=SeatQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Seat]:
        """Your own seats in order of time; given-up ones too, unless `status` says otherwise."""
        found = visible.own_seats(person).filter(touching(given))
        return found.filter(**{name: given[name] for name in ("studio", "status") if name in given})

    @operation(answer=SeatSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """One seat: yours, or one that you may change for its person."""
        return get_object_or_404(visible.seats_to_change(person), uid=uid)

    @operation(answer=SeatSerializer, status=201, body=ReserveSeat, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Seat:
        """Reserve a seat in a session, or a torch in open bench time."""
        reserve = reserve_class_seat if "session" in given else reserve_bench_torch
        return reserve(actor=person, **given)

    @action(detail=True, methods=["post"])
    @operation(answer=SeatSerializer, repeatable=True, refuses=(409,))
    def cancel(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """Give a seat up: the torch is free for somebody else."""
        seat = get_object_or_404(visible.seats_to_change(person), uid=uid)
        cancel_seat(actor=person, seat=seat)
        return get_object_or_404(visible.seats_to_change(person), uid=uid)
