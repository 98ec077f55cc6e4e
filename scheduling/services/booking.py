"""Booking sessions: the one write path for classes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.records import Kind, Placement, Refusal
from scheduling.engine.search import place
from scheduling.engine.world import World
from scheduling.errors import InvalidInput, NoStart, NotAllowed
from scheduling.models import Booking, Course, Firing, PersonSpan, Session
from scheduling.selectors.teaching import could_assist, require_teachable
from scheduling.services import audit, invitations
from scheduling.services.firings import tell_moved, write_firing
from scheduling.services.freeing import give_up_torches, past_torches
from scheduling.services.holding import hot_parts, make_way, share_heat, write_occupancy
from scheduling.services.messages import tell
from scheduling.services.refills import write_change_overs
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import ask_of, horizon_around, load_world, require_reachable
from scheduling.wording import meeting, when
from studios.models import Equipment, Person, Studio, Supply
from studios.said import said, several_said
from studios.selectors import may


@one_write
def book_session(
    *, actor: Person, course: Course, studio: Studio, instructor: Person, starts_at: dt.datetime
) -> Session:
    """Book a class with everything that it holds, the night after it included, or nothing at all.

    Raises NotAllowed, NotQualified, InvalidInput, NoStart (with its reasons) or AlreadyTaken.
    """
    start = whole_minute(starts_at)
    require_may_book(actor, course, studio, instructor)
    lock_for_class(course, studio, instructor)
    session, placement = write_class(actor, course, studio, instructor, start)
    _tell_booked(session, placement)
    audit.note(actor=actor, did="book", subject=session, studio=studio, said=meeting(session))
    return session


def require_may_book(actor: Person, course: Course, studio: Studio, instructor: Person) -> None:
    """Who books may, and who teaches may teach this there. Raises NotAllowed, NotQualified, InvalidInput."""
    _require_booker(actor, studio, instructor)
    require_teachable(course, studio, instructor)


def write_class(
    actor: Person, course: Course, studio: Studio, instructor: Person, start: int
) -> tuple[Session, Placement]:
    """Write a class whose rows are locked, with all that it holds. Raises NoStart or AlreadyTaken."""
    others = could_assist(course, studio, instructor)
    world = load_world([studio], horizon_around(moment(start)), [instructor, *others])
    placement = require_placement(place(world, ask_of(course, studio, instructor, others), start))
    booking = Booking.objects.create(studio=studio, booked_by=actor)
    session = _write_session(booking, course, instructor, placement, seats_in(world, course, placement))
    for firing in write_held(world, session, placement):
        tell_moved(firing, but=session)
    return session, placement


def whole_minute(starts_at: dt.datetime) -> int:
    """A start as the engine counts it; seconds are refused, and so is a time without a zone or far away."""
    require_reachable(starts_at)
    minute = floor_minutes(starts_at)
    if moment(minute) != starts_at:
        raise InvalidInput(
            field="starts_at", problem=said("A start is given to the minute, without seconds.")
        )
    return minute


def _require_booker(actor: Person, studio: Studio, instructor: Person) -> None:
    if actor == instructor and may(actor, "book", studio):
        return
    if may(actor, "book-for-others", studio):
        return
    role = "manager" if may(actor, "book", studio) else "instructor"
    raise NotAllowed(
        field="instructor", who=actor.name, what=said("book this class"), studio=studio.name, role=role
    )


def lock_for_class(
    course: Course,
    studio: Studio,
    instructor: Person,
    *,
    sessions: Iterable[int] = (),
    held: Iterable[int] = (),
    people: Iterable[int] = (),
) -> None:
    """Lock every row whose limit a class touches: supplies, equipment, sessions, who teaches and assists."""
    lock_places(course, studio, sessions=sessions, held=held)
    others = [person.pk for person in could_assist(course, studio, instructor)]
    lock(people=[instructor.pk, *others, *people])


def lock_places(
    course: Course, studio: Studio, *, sessions: Iterable[int] = (), held: Iterable[int] = ()
) -> None:
    """As `lock_for_class`, without the people; they are locked next, once it stands who they are.

    Torches there that were kept too long are dark then, and their oxygen and their place are free.
    """
    kinds = {need.kind for need in course.needs.all()} | {Kind.BENCH.value, Kind.PIPE_WARMER.value}
    equipment = Equipment.objects.filter(studio=studio, kind__in=kinds).values_list("pk", flat=True)
    supplies = Supply.objects.filter(studio=studio).values_list("pk", flat=True)
    past = past_torches(studio)
    torches = [seat.torch_id for seat in past if seat.torch_id is not None]
    lock(supplies=supplies, equipment=[*equipment, *held, *torches], sessions=sessions)
    give_up_torches(past)


def require_placement(answer: Placement | Refusal) -> Placement:
    """What a start holds; a refusal becomes an error that carries every reason."""
    if isinstance(answer, Placement):
        return answer
    raise no_start(answer)


def no_start(refusal: Refusal) -> NoStart:
    """A refusal as an error that carries every reason."""
    return NoStart(
        field="starts_at",
        sentence=several_said([reason.sentence for reason in refusal.reasons], " "),
        reasons=[
            {
                "code": reason.code,
                "sentence": reason.sentence,
                "until": moment(reason.until) if reason.until is not None else None,
            }
            for reason in refusal.reasons
        ],
    )


def _write_session(
    booking: Booking, course: Course, instructor: Person, placement: Placement, seats: int
) -> Session:
    session = Session.objects.create(
        booking=booking,
        course=course,
        studio=booking.studio,
        instructor=instructor,
        starts_at=moment(placement.start),
        ends_at=moment(placement.end),
        seats=seats,
    )
    write_teaching(session, placement)
    return session


def write_teaching(session: Session, placement: Placement) -> None:
    """Who teaches and who assists give their time, set-up and clean-up included."""
    session.assistants.set(placement.assistant_ids)
    PersonSpan.objects.bulk_create(
        PersonSpan(
            person_id=person_id,
            studio=session.studio,
            session=session,
            starts_at=moment(placement.person_span[0]),
            ends_at=moment(placement.person_span[1]),
        )
        for person_id in (session.instructor_id, *placement.assistant_ids)
    )


def seats_in(world: World, course: Course, placement: Placement) -> int:
    """A class at the torches has no more seats than the torches that it holds."""
    held = [world.apparatus[part.apparatus_id].kind for part in placement.held]
    torches = held.count(Kind.TORCH)
    return min(course.seats, torches) if torches else course.seats


def write_held(world: World, session: Session, placement: Placement) -> list[Firing]:
    """Write all that a session holds; returns the firings it joins that now open at another time."""
    hot = hot_parts(world, [part.apparatus_id for part in placement.held])
    core = (placement.start, placement.end)
    make_way(world, hot, core, placement.kept_hot)
    for part in placement.held:
        write_occupancy(part, booking=session.booking)
    share_heat(world, hot, core)
    written = [write_firing(firing, session=session) for firing in placement.firings]
    write_change_overs(session.booking, placement.change_overs)
    return [firing for firing in written if firing is not None]


def _tell_booked(session: Session, placement: Placement) -> None:
    out = [when(moment(firing.unload), session.studio) for firing in placement.firings]
    unload = [said("The pieces can be unloaded from {when}.", when=each) for each in out]
    what = said("{meeting}.", meeting=meeting(session))
    assistants = list(session.assistants.order_by("name"))
    names = several_said([person.name for person in assistants], ", ")
    beside = [said("Assisting: {names}.", names=names)] if assistants else []
    tell(
        person=session.instructor,
        subject=said("Booked: {course}", course=session.course.name),
        body=several_said([what, *beside, *unload], "\n"),
        **invitations.of_class(session, session.instructor),
    )
    for person in assistants:
        tell(
            person=person,
            subject=said("You assist: {course}", course=session.course.name),
            body=several_said([what, said("It is taught by {who}.", who=session.instructor.name)], "\n"),
            **invitations.of_class(session, person),
        )
