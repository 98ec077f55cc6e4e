"""Who is told that a class was moved: who sits in it, waits for it, teaches it, assists or minds its heat."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scheduling.models import Session
from scheduling.services import invitations
from scheduling.services.invitations import Invited
from scheduling.services.line import waiting_in
from scheduling.services.messages import tell
from scheduling.services.reseating import Reseated, said_of
from scheduling.wording import meeting, when
from studios.models import Person
from studios.said import said, several_said
from studios.selectors import people_with

Word = tuple[Person, str]


@dataclass(frozen=True, kw_only=True)
class Before:
    """A class as it was before it moved, and what was lit for it by then."""

    starts_at: dt.datetime
    meeting: str
    instructor: Person
    assistants: tuple[Person, ...]
    lit: tuple[str, ...]

    @classmethod
    def of(cls, session: Session, lit: Sequence[str]) -> Before:
        """A class as it stands."""
        return cls(
            starts_at=session.starts_at,
            meeting=meeting(session),
            instructor=session.instructor,
            assistants=tuple(session.assistants.order_by("name", "pk")),
            lit=tuple(lit),
        )


def tell_moved_session(session: Session, before: Before, reseated: Sequence[Reseated]) -> None:
    """Everybody concerned is told once, of all that concerns them."""
    words: dict[Person, list[str]] = defaultdict(list)
    for person, word in _words(session, before, reseated):
        words[person].append(word)
    head, invited = _head(session, before), _invited(session, before, reseated)
    subject = _subject(session, before)
    for person in sorted(words, key=lambda each: each.pk):
        body = several_said([head, *dict.fromkeys(words[person])], "\n")
        for each in invitations.by_method(invited[person]):
            tell(person=person, subject=subject, body=body, **each)


def _invited(session: Session, before: Before, reseated: Sequence[Reseated]) -> dict[Person, list[Invited]]:
    """What the calendars are told of whoever sits in it, teaches it or assists, and did until now."""
    found: dict[Person, list[Invited]] = defaultdict(list)
    for each in reseated:
        found[each.seat.person].append(invitations.of_seat(each.seat))
    teachers = before.instructor, session.instructor, *before.assistants, *session.assistants.all()
    for person in dict.fromkeys(teachers):
        found[person].append(invitations.of_class(session, person))
    return found


def _subject(session: Session, before: Before) -> str:
    if session.starts_at == before.starts_at:
        return said("Changed: {course}", course=session.course.name)
    return said("Moved: {course}", course=session.course.name)


def _head(session: Session, before: Before) -> str:
    if session.starts_at == before.starts_at:
        return said("{meeting}, stays at its time.", meeting=before.meeting)
    then = when(session.starts_at, session.studio)
    return said("{meeting}, is moved to {when}.", meeting=before.meeting, when=then)


def _words(session: Session, before: Before, reseated: Sequence[Reseated]) -> Iterator[Word]:
    yield from _to_students(session, before, reseated)
    yield from _to_teachers(session, before)
    if before.lit:
        lit = said(
            "Lit already: {names}. Turn off what no other class or firing needs.",
            names=several_said(before.lit, ", "),
        )
        yield from ((person, lit) for person in people_with("enter-outage", session.studio))


def _to_students(session: Session, before: Before, reseated: Sequence[Reseated]) -> Iterator[Word]:
    """Where time, torch and teacher are as they were, there is nothing to tell."""
    same = session.starts_at == before.starts_at
    for each in reseated:
        if not same or each.new_torch or each.lost_because:
            yield each.seat.person, said_of(each)
        if session.instructor != before.instructor:
            yield each.seat.person, said("It is taught by {who} now.", who=session.instructor.name)
    for place in () if same else waiting_in(session):
        yield place.person, said("You keep your place in its waiting line.")


def _to_teachers(session: Session, before: Before) -> Iterator[Word]:
    teacher, assistants = session.instructor, list(session.assistants.order_by("name", "pk"))
    held = _holds(session)
    yield teacher, several_said([said("You teach it."), held], "\n") if teacher != before.instructor else held
    if teacher != before.instructor:
        yield before.instructor, said("It is taught by {who} now.", who=teacher.name)
    for person in assistants:
        yield person, said("You assist; it is taught by {who}.", who=teacher.name)
    for person in before.assistants:
        if person not in assistants:
            yield person, said("You no longer assist in it.")


def _holds(session: Session) -> str:
    """What it holds now, and when its pieces can be unloaded."""
    own = session.booking.occupancies.order_by("equipment__kind", "equipment__number", "equipment_id")
    names = dict.fromkeys(own.values_list("equipment__name", flat=True))
    loads = session.loads.select_related("firing__equipment").order_by("pk")
    names |= dict.fromkeys(load.firing.equipment.name for load in loads)
    unloaded = [when(load.firing.unload_at, session.studio) for load in loads]
    lines = [said("It holds {names}.", names=several_said(names, ", "))]
    lines += [said("The pieces can be unloaded from {when}.", when=each) for each in unloaded]
    return several_said(lines, "\n")
