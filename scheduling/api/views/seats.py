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
from scheduling.api.serializers.seats import BookKeptSeat, KeepSeat, ReserveSeat, SeatSerializer
from scheduling.api.strict import Window, touching
from scheduling.models import Seat, SeatStatus
from scheduling.selectors import visible
from scheduling.services.keeping import book_kept, keep_longer, keep_seat, keep_torch, let_go
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Person
from studios.selectors import studios_of


class SeatQuery(Window, PageQuery):
    """Which of your seats."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    status = serializers.ChoiceField(choices=SeatStatus.choices, required=False)


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
        return _seat(person, uid)

    @operation(answer=SeatSerializer, status=201, body=ReserveSeat, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Seat:
        """Reserve a seat in a session, or a torch in open bench time."""
        reserve = reserve_class_seat if "session" in given else reserve_bench_torch
        return reserve(actor=person, **given)

    @action(detail=False, methods=["post"])
    @operation(answer=SeatSerializer, status=201, body=KeepSeat, repeatable=True, refuses=(409, 422))
    def keep(self, person: Person, given: dict[str, Any]) -> Seat:
        """Keep a seat until a time, while you make up your mind; one that is kept already stays as it is."""
        keep = keep_seat if "session" in given else keep_torch
        return keep(actor=person, **given)

    @action(detail=True, methods=["post"], url_path="keep-longer")
    @operation(answer=SeatSerializer, repeatable=True, refuses=(409,))
    def keep_longer(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """Keep a kept seat longer, once."""
        return keep_longer(actor=person, seat=_seat(person, uid))

    @action(detail=True, methods=["post"])
    @operation(answer=SeatSerializer, body=BookKeptSeat, repeatable=True, refuses=(409, 422))
    def book(self, person: Person, given: dict[str, Any], uid: UUID) -> Seat:
        """Book a seat that is kept for you, or offered to you from the waiting line."""
        return book_kept(actor=person, seat=_seat(person, uid), **given)

    @action(detail=True, methods=["post"], url_path="let-go")
    @operation(answer=SeatSerializer, repeatable=True, refuses=(409,))
    def let_go(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """Let a kept or offered seat go: it is free for somebody else."""
        return let_go(actor=person, seat=_seat(person, uid))

    @action(detail=True, methods=["post"])
    @operation(answer=SeatSerializer, repeatable=True, refuses=(409,))
    def cancel(self, person: Person, _given: dict[str, Any], uid: UUID) -> Seat:
        """Give a seat back until its `give_back_until`; later who may reserve for others does."""
        cancel_seat(actor=person, seat=_seat(person, uid))
        return _seat(person, uid)


def _seat(person: Person, uid: UUID) -> Seat:
    return get_object_or_404(visible.seats_to_change(person), uid=uid)
