"""The demo's term: outages, classes, seats and bench time, each booked as a page would book it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache

from scheduling.management.demo.files import Facts, email_of, read
from scheduling.management.demo.term import Term
from scheduling.models import Course, Session
from scheduling.selectors.safety import text_in_force
from scheduling.services.booking import book_session
from scheduling.services.charges import book_charge
from scheduling.services.outages import enter_outage
from scheduling.services.refills import record_refill
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.errors import LehrbookError
from studios.models import Equipment, EquipmentKind, Person, Studio


@dataclass(kw_only=True)
class Booked:
    """What was booked, counted, and what was refused, each with its reason."""

    sessions: int = 0
    seats: int = 0
    bench: int = 0
    refused: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Rows:
    """Rows by the names that the files give them, looked up once."""

    person: Callable[[str], Person]
    studio: Callable[[str], Studio]
    course: Callable[[str], Course]


def rows() -> Rows:
    """A fresh look-up; it must not outlive the transaction it reads in."""
    return Rows(
        person=cache(lambda key: Person.objects.get(email=email_of(key))),
        studio=cache(lambda slug: Studio.objects.get(slug=slug)),
        course=cache(lambda slug: Course.objects.get(slug=slug)),
    )


def book_term(term: Term) -> Booked:
    """Enter the outages, fill cylinders and pot, then book classes and bench time in their order of time."""
    facts, known, booked = read("term"), rows(), Booked()
    for outage in facts["outage"]:
        _enter(outage, term, known)
    _fill(facts, term, known)
    for moment, kind, meeting in _in_order(facts, term, known):
        try:
            kind(meeting, moment, known, booked)
        except LehrbookError as error:
            what = meeting.get("course", "bench time")
            booked.refused.append(f"{what}, {moment:%Y-%m-%d %H:%M} UTC: {error}")
    return booked


def _fill(facts: Facts, term: Term, known: Rows) -> None:
    """The cylinders are full as the term begins, and the furnace is charged every so often."""
    for refill in facts["refill"]:
        studio = known.studio(refill["studio"])
        record_refill(
            actor=known.person(refill["by"]),
            supply=studio.supplies.get(name=refill["supply"]),
            at=term.moment(refill["week"], refill["weekday"], refill["time"], studio.zone),
        )
    for charge in facts["charge"]:
        studio = known.studio(charge["studio"])
        for week in charge["weeks"]:
            book_charge(
                actor=known.person(charge["by"]),
                furnace=studio.equipment.get(name=charge["furnace"]),
                starts_at=term.moment(week, charge["weekday"], charge["time"], studio.zone),
            )


def version_at(studio: Studio) -> int | None:
    """The version of the safety text that the demo's people have read there."""
    text = text_in_force(studio)
    return text.version if text else None


def torch_at(studio: Studio, number: int) -> Equipment:
    """The torch with this number."""
    return studio.equipment.get(kind=EquipmentKind.TORCH, number=number)


def _enter(facts: Facts, term: Term, known: Rows) -> None:
    studio = known.studio(facts["studio"])
    starts_at, ends_at = (
        term.moment(facts["week"], facts[edge]["weekday"], facts[edge]["time"], studio.zone)
        for edge in ("from", "to")
    )
    enter_outage(
        actor=known.person(facts["entered_by"]),
        equipment=studio.equipment.get(name=facts["equipment"]),
        starts_at=starts_at,
        ends_at=ends_at,
        reason=facts["reason"],
    )


Happening = tuple[dt.datetime, Callable[[Facts, dt.datetime, Rows, Booked], None], Facts]


def _in_order(facts: Facts, term: Term, known: Rows) -> list[Happening]:
    classes = _weekly(facts["series"], _book_class, term, known)
    bench = _weekly(facts["bench"], _book_bench, term, known)
    return sorted([*classes, *bench], key=lambda happening: happening[0])


def _weekly(
    series: Iterable[Facts],
    kind: Callable[[Facts, dt.datetime, Rows, Booked], None],
    term: Term,
    known: Rows,
) -> list[Happening]:
    return [
        (term.moment(week, one["weekday"], one["time"], known.studio(one["studio"]).zone), kind, one)
        for one in series
        for week in one["weeks"]
    ]


def _book_class(facts: Facts, starts_at: dt.datetime, known: Rows, booked: Booked) -> None:
    instructor = known.person(facts["instructor"])
    session = book_session(
        actor=instructor,
        course=known.course(facts["course"]),
        studio=known.studio(facts["studio"]),
        instructor=instructor,
        starts_at=starts_at,
    )
    booked.sessions += 1
    for key in facts["students"]:
        _take_seat(session, known.person(key), booked)


def _take_seat(session: Session, student: Person, booked: Booked) -> None:
    try:
        reserve_class_seat(actor=student, session=session, acknowledged=version_at(session.studio))
    except LehrbookError as error:
        booked.refused.append(f"seat of {student} in {session}: {error}")
    else:
        booked.seats += 1


def _book_bench(facts: Facts, starts_at: dt.datetime, known: Rows, booked: Booked) -> None:
    reserve_bench_torch(
        actor=known.person(facts["person"]),
        torch=torch_at(known.studio(facts["studio"]), facts["torch"]),
        starts_at=starts_at,
        ends_at=starts_at + dt.timedelta(minutes=facts["minutes"]),
        acknowledged=version_at(known.studio(facts["studio"])),
    )
    booked.bench += 1
