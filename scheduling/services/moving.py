"""Moving a session: what it held is free, and it holds anew what it needs, in one transaction or not at all.

    release what it holds --> place it by the engine --> write it --> seats follow --> tell whom it concerns

A refusal anywhere leaves everything as it was. At its own start it takes other equipment, where its own is
out of use. What a move would do is found by doing it and undoing it (`services.rehearsing`).
"""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.people import with_promises_kept
from scheduling.engine.records import Kind
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.errors import NotAllowed, Over
from scheduling.models import (
    BookingStatus,
    Course,
    Load,
    Occupancy,
    PersonSpan,
    Seat,
    Session,
)
from scheduling.selectors.teaching import could_assist, require_teachable
from scheduling.services import audit, line
from scheduling.services.booking import (
    lock_places,
    require_may_book,
    require_placement,
    seats_in,
    whole_minute,
    write_held,
    write_teaching,
)
from scheduling.services.class_pieces import stand_again
from scheduling.services.lapsing import standing_in
from scheduling.services.moved import Before, tell_moved_session
from scheduling.services.releasing import (
    lit_already,
    opens_at,
    release_held,
    still_strained,
    tell_to_keep_hot,
    tell_whose_moved,
)
from scheduling.services.reseating import require_fit, reseat
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import ask_of, horizon_around, load_world
from scheduling.wording import place_of, when
from studios.models import Person
from studios.said import said
from studios.selectors import may


@one_write
def move_session(
    *, actor: Person, session: Session, starts_at: dt.datetime, instructor: Person | None = None
) -> Session:
    """Move a class that has not begun, with its seats and the night after it, or nothing at all.

    At its own start it takes other equipment. Without `instructor` whoever teaches it goes on to. Who is busy
    at the new time loses the seat and is told why. Raises NotAllowed, NotQualified, InvalidInput, Over,
    SeatsDoNotFit, NoStart (with its reasons) or AlreadyTaken.
    """
    start = whole_minute(starts_at)
    session.refresh_from_db()
    teacher = instructor or session.instructor
    require_may_move(actor, session, teacher)
    seats = begin_move(session, teacher)
    before, opened = Before.of(session, lit_already(session)), opens_at(session.studio)
    strained = release_held(session)
    _retake(session, teacher, start, seats)
    reseated = reseat(session, seats)
    for row in still_strained(session, strained):
        tell_to_keep_hot(session, row, why="is moved")
    tell_whose_moved(opened, but=session)
    tell_moved_session(session, before, reseated)
    noted = f"{before.meeting} to {when(session.starts_at, session.studio)}"
    audit.note(actor=actor, did="move", subject=session, studio=session.studio, said=noted)
    _free_lost(actor, session, [each.seat for each in reseated if each.lost_because])
    return session


def _free_lost(actor: Person, session: Session, lost: Sequence[Seat]) -> None:
    """The seats of those who are busy then go to the line, and it is noted whose they were."""
    for seat in lost:
        audit.note(actor=actor, did="lose-seat", subject=seat, studio=seat.studio, said=place_of(seat))
    if lost:
        line.offer_free_seats(session)


def require_may_move(actor: Person, session: Session, teacher: Person) -> None:
    """Who may call a class off may move it; who may book for somebody else may give it to somebody else.

    Raises NotAllowed, NotQualified or InvalidInput.
    """
    if not may_move(actor, session):
        raise NotAllowed(
            who=actor.name, what=said("move this class"), studio=session.studio.name, role=said("manager")
        )
    if teacher == session.instructor:
        require_teachable(session.course, session.studio, teacher)
    else:
        require_may_book(actor, session.course, session.studio, teacher)


def may_move(actor: Person, session: Session) -> bool:
    """The own class, as one may book one; else as one may book for others."""
    own = actor == session.instructor and may(actor, "book", session.studio)
    return own or may(actor, "book-for-others", session.studio)


def begin_move(session: Session, teacher: Person) -> list[Seat]:
    """Lock all that a move touches, there and here; returns the seats taken. Raises Over."""
    held = [
        *Occupancy.objects.filter(booking=session.booking_id).values_list("equipment_id", flat=True),
        *Load.objects.filter(session=session).values_list("firing__equipment_id", flat=True),
    ]
    lock_places(session.course, session.studio, sessions=[session.pk], held=held)
    _lock_people(session, teacher)
    session.refresh_from_db(fields=["status", "sequence", "starts_at", "ends_at", "seats", "instructor"])
    if session.status != BookingStatus.BOOKED:
        raise Over(what=session.course.name, why=said("is called off"))
    if session.starts_at <= timezone.now():
        raise Over(what=session.course.name, why=said("has begun and can no longer be moved"))
    return standing_in(session)


def _lock_people(session: Session, teacher: Person) -> None:
    """Who teaches and assists, here and there, and who sits in it: the session is locked, so that stands."""
    spans = PersonSpan.objects.filter(session=session) | PersonSpan.objects.filter(seat__session=session)
    kept = Seat.objects.filter(session=session).values_list("person_id", flat=True)
    others = could_assist(session.course, session.studio, teacher)
    lock(people=[teacher.pk, *(one.pk for one in others), *spans.values_list("person_id", flat=True), *kept])


def promised_hours(session: Session) -> dict[int, Span]:
    """Who teaches and who assists has promised these hours, whatever else their own calendars say by now."""
    course, begin = session.course, floor_minutes(session.starts_at)
    span = begin - course.setup_min, begin + course.minutes + course.cleanup_min
    assistants = session.assistants.values_list("pk", flat=True)
    return dict.fromkeys([session.instructor_id, *assistants], span)


def as_booked(session: Session) -> Course:
    """Its course with as many seats as the class has, whatever the course says by now."""
    course = copy.copy(session.course)
    course.seats = session.seats
    return course


def _retake(session: Session, teacher: Person, start: int, seats: Sequence[Seat]) -> None:
    """Find anew what the class holds, and write it. Raises NoStart, SeatsDoNotFit or AlreadyTaken."""
    course, studio = as_booked(session), session.studio
    others = _assistants_first(session, could_assist(course, studio, teacher))
    world = load_world([studio], horizon_around(moment(start)), [teacher, *others])
    world = with_promises_kept(world, promised_hours(session))
    ask = replace(ask_of(course, studio, teacher, others), notice=moment(start) != session.starts_at)
    placement = require_placement(place(world, ask, start))
    torches = [part for part in placement.held if world.apparatus[part.apparatus_id].kind is Kind.TORCH]
    require_fit(session, seats, len(torches))
    session.instructor, session.seats = teacher, seats_in(world, course, placement)
    session.starts_at, session.ends_at = moment(placement.start), moment(placement.end)
    session.sequence, session.changed_at = session.sequence + 1, timezone.now()
    session.save()
    write_teaching(session, placement)
    write_held(world, session, placement)
    stand_again(session)


def _assistants_first(session: Session, others: Sequence[Person]) -> list[Person]:
    """Who assists already goes on to where that is possible."""
    known = set(session.assistants.values_list("pk", flat=True))
    return sorted(others, key=lambda person: (person.pk not in known, person.pk))
