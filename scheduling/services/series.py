"""Booking a weekly class: every week of it, or none."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from scheduling.engine.clock import moment, wall_minutes
from scheduling.engine.records import Placement
from scheduling.errors import InvalidInput, NoStart, NoSuchWallTime, SeriesSpoilt
from scheduling.models import Course, Series, Session
from scheduling.selectors.offers import MOST_WEEKS
from scheduling.services import audit, invitations
from scheduling.services.booking import lock_for_class, require_may_book, write_class
from scheduling.services.messages import tell
from scheduling.services.transactions import one_write
from scheduling.snapshot import require_reachable
from scheduling.wording import meeting, when
from studios.models import Person, Studio
from studios.said import Form, moment_said, said, several_said


@one_write
def book_series(
    *,
    actor: Person,
    course: Course,
    studio: Studio,
    instructor: Person,
    days: Sequence[dt.date],
    time: dt.time,
) -> Series:
    """Book a course on each of some days at one time by the studio's clock, with every night after it.

    What is held may differ from week to week. Raises NotAllowed, NotQualified, InvalidInput, AlreadyTaken, or
    SeriesSpoilt, which names the first week that cannot be had and why; then nothing is booked.
    """
    ordered = _in_order(days)
    require_may_book(actor, course, studio, instructor)
    lock_for_class(course, studio, instructor)
    series = Series.objects.create(
        course=course,
        studio=studio,
        instructor=instructor,
        first_day=ordered[0],
        time=time,
        booked_by=actor,
    )
    written = [_meeting(series, actor, day) for day in ordered]
    _tell(series, written)
    return series


def _in_order(days: Sequence[dt.date]) -> list[dt.date]:
    ordered = sorted(set(days))
    if not 0 < len(ordered) <= MOST_WEEKS:
        raise InvalidInput(
            field="days", problem=said("A series has between 1 and {most_weeks} days.", most_weeks=MOST_WEEKS)
        )
    if any((day - ordered[0]).days % 7 for day in ordered):
        raise InvalidInput(field="days", problem=said("The days of a series lie whole weeks apart."))
    return ordered


def _meeting(series: Series, actor: Person, day: dt.date) -> tuple[Session, Placement]:
    studio = series.studio
    try:
        start = wall_minutes(day, series.time, studio.zone)
        require_reachable(moment(start))
        session, placement = write_class(actor, series.course, studio, series.instructor, start)
    except (NoStart, NoSuchWallTime) as error:
        raise SeriesSpoilt(
            field="days",
            sentence=said(
                "Nothing was booked, because of {day}: {why}",
                day=moment_said(day, Form.DATE),
                why=error.said,
            ),
            day=day.isoformat(),
            reasons=error.facts.get("reasons", []),
        ) from error
    session.series, session.planned_at = series, session.starts_at
    session.save(update_fields=["series", "planned_at"])
    noted = f"{meeting(session)}, one meeting of a weekly class"
    audit.note(actor=actor, did="book", subject=session, studio=studio, said=noted)
    return session, placement


def _tell(series: Series, written: Sequence[tuple[Session, Placement]]) -> None:
    meetings = [when(session.starts_at, series.studio) for session, _ in written]
    facts = {"course": series.course.name, "studio": series.studio.name}
    tell(
        person=series.instructor,
        subject=said("Booked: {course}, {number} meetings", course=series.course.name, number=len(written)),
        body=several_said([said("{course} at {studio}:", **facts), *meetings], "\n"),
        **invitations.of_series(series, series.instructor),
    )
    assisted: dict[Person, list[Session]] = defaultdict(list)
    for session, _ in written:
        for person in session.assistants.all():
            assisted[person].append(session)
    for person, sessions in assisted.items():
        theirs = [when(session.starts_at, series.studio) for session in sessions]
        head = said("{course} at {studio}, taught by {teacher}:", **facts, teacher=series.instructor.name)
        tell(
            person=person,
            subject=said(
                "You assist: {course}, {count} meeting",
                several="You assist: {course}, {count} meetings",
                course=series.course.name,
                count=len(sessions),
            ),
            body=several_said([head, *theirs], "\n"),
            **invitations.of_series(series, person),
        )
