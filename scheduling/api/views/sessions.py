"""Sessions: read, booked and cancelled."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action

from scheduling.api.fields import FlagField, SlugField, UidField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.changes import MoveQuery, MoveSession, RehearsalSerializer
from scheduling.api.serializers.sessions import BookSession, SessionLineSerializer, SessionSerializer
from scheduling.api.strict import Window, touching
from scheduling.models import BookingStatus, Session
from scheduling.selectors import visible
from scheduling.services.booking import book_session
from scheduling.services.cancelling import cancel_session
from scheduling.services.moving import move_session
from scheduling.services.rehearsing import Rehearsal, rehearse_move
from studios.models import Person
from studios.selectors import studios_of


class SessionQuery(Window, PageQuery):
    """Which sessions."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    instructor = UidField(among=visible.instructors_of, what="instructor", required=False)
    status = serializers.ChoiceField(choices=BookingStatus.choices, required=False)
    mine = FlagField(required=False, help_text="true: those you teach, assist or have a seat in.")


class SessionView(Resource):
    """The sessions at your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=SessionLineSerializer, query=SessionQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Session]:
        """Sessions in order of time; cancelled ones too, unless `status` says otherwise."""
        found = visible.sessions_of(person).filter(touching(given))
        found = found.filter(
            **{name: given[name] for name in ("studio", "instructor", "status") if name in given}
        )
        if "mine" in given:
            own = _own(person)
            found = found.filter(own if given["mine"] else ~own)
        return found

    @operation(answer=SessionSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Session:
        """One session with everything it holds."""
        return _session(person, uid)

    @operation(answer=SessionSerializer, status=201, body=BookSession, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Session:
        """Book a session: the equipment, its heat-up and its night are found and held, or it is refused."""
        wanted = {"instructor": person, **given}
        return _session(person, book_session(actor=person, **wanted).uid)

    @action(detail=True, methods=["post"])
    @operation(answer=SessionSerializer, repeatable=True, refuses=(409,))
    def cancel(self, person: Person, _given: dict[str, Any], uid: UUID) -> Session:
        """Cancel a session: it holds nothing any longer, and its students are told."""
        cancel_session(actor=person, session=_session(person, uid))
        return _session(person, uid)

    @action(detail=True, methods=["get"])
    @operation(answer=RehearsalSerializer, query=MoveQuery, refuses=(409,))
    def move(self, person: Person, given: dict[str, Any], uid: UUID) -> Rehearsal:
        """What a move would hold and who could not come then, or why it cannot be and what is nearest."""
        return rehearse_move(actor=person, session=_session(person, uid), **given)

    @move.mapping.post
    @operation(answer=SessionSerializer, body=MoveSession, repeatable=True, refuses=(409, 422))
    def move_now(self, person: Person, given: dict[str, Any], uid: UUID) -> Session:
        """Move a session with all it holds and its seats, or nothing at all; whoever it concerns is told."""
        move_session(actor=person, session=_session(person, uid), **given)
        return _session(person, uid)


def _session(person: Person, uid: UUID) -> Session:
    return get_object_or_404(visible.session_details_of(person), uid=uid)


def _own(person: Person) -> Q:
    seats = person.seats.filter(status=BookingStatus.BOOKED, session__isnull=False)
    assisted = person.assisted_sessions.values("pk")
    return Q(instructor=person) | Q(pk__in=assisted) | Q(pk__in=seats.values("session"))
