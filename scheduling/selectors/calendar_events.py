"""Rows as events of a calendar: a class, a weekly class, a seat, a firing, its unloading, its pick-up.

Every end is read from what is stored, so a calendar shows what the sheet shows. A description says only what
cannot change unless the row says when it changed; what else there is to know stands on the page of the event.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import replace
from statistics import mode
from typing import Any

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.ical.event import CalendarEvent, EventKind, Weekly
from scheduling.ical.weekly import planned_starts
from scheduling.models import BookingStatus, Firing, KilnJob, KilnJobStatus, Load, Seat, Series, Session
from scheduling.selectors.loads import load_title
from scheduling.wording import degrees, long, when
from studios.models import Studio
from studios.thermal import Recipe

# Somebody who has to be at a kiln wants to hear of it in time to get there.
ALARM_MIN = 30
CANCELLED = BookingStatus.CANCELLED
MINUTE = dt.timedelta(minutes=1)


def class_event(session: Session) -> CalendarEvent:
    """A class, at the time at which it is taught; what it holds before and after stands on its page."""
    return CalendarEvent(
        uid=str(session.uid),
        kind=EventKind.CLASS,
        title=session.course.name,
        description="\n".join(_class_lines(session)),
        starts_at=session.starts_at,
        ends_at=session.ends_at,
        sequence=session.sequence,
        changed_at=session.changed_at,
        opaque=True,
        cancelled=session.status == CANCELLED,
        page=("session", str(session.uid)),
        **place_of(session.studio),
    )


def _class_lines(session: Session) -> Iterator[str]:
    """Who teaches, and how much time they give beside the class: that changes only when it is moved."""
    assistants = ", ".join(sorted(person.name for person in session.assistants.all()))
    assisting = f", assisting: {assistants}" if assistants else ""
    yield f"Taught by {session.instructor.name}{assisting}."
    for span in list(session.person_spans.all())[:1]:
        if before := (session.starts_at - span.starts_at) // MINUTE:
            yield f"Set-up begins {long(before)} before the class."
        if after := (span.ends_at - session.ends_at) // MINUTE:
            yield f"Clean-up ends {long(after)} after it."


def series_events(
    series: Series,
    sessions: Iterable[Session],
    *,
    theirs: Collection[int] | None = None,
    since: dt.datetime | None = None,
) -> list[CalendarEvent]:
    """A weekly class as one event that comes back, and one for each meeting that is not as planned.

    `sessions` are all its meetings, `theirs` the keys of those that are the reader's: all, where nothing is
    said. A meeting that is called off is shown as such until it is over by `since`; then it is skipped, as is
    a week without a meeting, or with one of somebody else's. Whatever changes, the number of changes rises.
    """
    everybodys = list(sessions)
    own = [session for session in everybodys if theirs is None or session.pk in theirs]
    planned = _planned(series, own)
    stamp: dict[str, Any] = {
        "sequence": sum(session.sequence for session in everybodys),
        "changed_at": max((session.changed_at for session in everybodys), default=series.created_at),
    }
    alone = [class_event(session) for session in own if session not in planned.values()]
    if not planned:
        return alone
    length = mode(session.ends_at - session.starts_at for session in planned.values())
    gone = {start for start, session in planned.items() if _is_gone(session, since)}
    master = _master(series, planned, gone, length)
    others = [
        meeting_event(session)
        for start, session in planned.items()
        if start not in gone and not _as_planned(session, length)
    ]
    return [replace(event, **stamp) for event in (master, *others)] + alone


def meeting_event(session: Session) -> CalendarEvent:
    """One meeting of a weekly class, which stands in its series for the start that was planned."""
    series = session.series
    if series is None or session.planned_at is None:
        return class_event(session)
    return replace(
        class_event(session),
        uid=str(series.uid),
        stands_for=session.planned_at,
        series_zone=series.studio.time_zone,
    )


def _planned(series: Series, sessions: Iterable[Session]) -> dict[dt.datetime, Session]:
    """The meetings by their planned starts. One that fits into no week of the series is left out."""
    found: dict[dt.datetime, Session] = {}
    for session in sessions:
        if session.planned_at is not None:
            found.setdefault(session.planned_at, session)
    if not found:
        return found
    weeks = set(planned_starts(min(found), max(found), series.studio.time_zone))
    return {start: found[start] for start in sorted(found) if start in weeks}


def _is_gone(session: Session, since: dt.datetime | None) -> bool:
    return session.status == CANCELLED and since is not None and session.ends_at <= since


def _as_planned(session: Session, length: dt.timedelta) -> bool:
    stands = session.status != CANCELLED and session.starts_at == session.planned_at
    return stands and session.ends_at - session.starts_at == length


def _master(
    series: Series,
    planned: dict[dt.datetime, Session],
    gone: Collection[dt.datetime],
    length: dt.timedelta,
) -> CalendarEvent:
    """It says of itself only what all meetings have in common."""
    first, last = min(planned), max(planned)
    weeks = planned_starts(first, last, series.studio.time_zone)
    skipped = tuple(week for week in weeks if week in gone or week not in planned)
    said = [list(_class_lines(session)) for session in planned.values()]
    return CalendarEvent(
        uid=str(series.uid),
        kind=EventKind.CLASS,
        title=series.course.name,
        description="\n".join(line for line in said[0] if all(line in lines for lines in said)),
        starts_at=first,
        ends_at=first + length,
        sequence=0,
        changed_at=series.created_at,
        opaque=True,
        page=("session", str(planned[first].uid)),
        weekly=Weekly(until=last, skipped=skipped),
        **place_of(series.studio),
    )


def seat_event(seat: Seat) -> CalendarEvent:
    """A seat in a class, which moves with it, or at a torch in open bench time."""
    torch_or_number = seat.torch.name if seat.torch else f"seat {seat.number}"
    session = seat.session
    return CalendarEvent(
        uid=str(seat.uid),
        kind=EventKind.SEAT,
        title=f"{session.course.name if session else 'Bench time'}, {torch_or_number}",
        description=f"Taught by {session.instructor.name}." if session else "",
        starts_at=seat.starts_at,
        ends_at=seat.ends_at,
        sequence=seat.sequence + (session.sequence if session else 0),
        changed_at=max(seat.changed_at, session.changed_at) if session else seat.changed_at,
        opaque=True,
        cancelled=CANCELLED in (seat.status, session.status if session else None),
        page=("my-seats",),
        **place_of(seat.studio),
    )


def firing_event(
    firing: Firing, more: Iterable[str] = (), *, named: Callable[[Load], bool] = lambda _: True
) -> CalendarEvent:
    """A firing runs from the last piece in to the door open, whatever the clocks do in between.

    A load that is not to be `named` to its reader is somebody's own work.
    """
    return _of_firing(
        firing,
        uid=str(firing.uid),
        kind=EventKind.FIRING,
        title=f"{firing.recipe.replace('-', ' ').capitalize()}: {firing.equipment.name}",
        description="\n".join((*_firing_lines(firing, named), *more)),
        starts_at=firing.last_in_at,
        ends_at=firing.unload_at,
    )


def unloading_event(firing: Firing, *, alarm_min: int | None = ALARM_MIN) -> CalendarEvent:
    """Somebody has to be there when a firing is cool, and hears of it before."""
    cool = when(firing.cool_at, firing.equipment.studio)
    return _of_firing(
        firing,
        uid=str(uuid.uuid5(firing.uid, "unloading")),
        kind=EventKind.DUTY,
        title=f"Unload {firing.equipment.name}",
        description=f"{_courses(firing)}.\nCool enough to open from {cool}.",
        starts_at=firing.unload_at,
        ends_at=_unloaded_at(firing),
        alarm_min=alarm_min,
    )


def pick_up_event(firing: Firing) -> CalendarEvent:
    """When the pieces are out of the kiln."""
    out = _unloaded_at(firing)
    return _of_firing(
        firing,
        uid=str(uuid.uuid5(firing.uid, "pick-up")),
        kind=EventKind.PICK_UP,
        title="Pieces ready to collect",
        description=f"Out of {firing.equipment.name} from {when(out, firing.equipment.studio)}.",
        starts_at=out,
        ends_at=out,
    )


def job_ready_events(job: KilnJob) -> Iterator[CalendarEvent]:
    """When the pieces of a kiln job can be handed back, at each studio that fires some of them."""
    ready: dict[Studio, dt.datetime] = {}
    ends = [(load.firing.equipment.studio, _unloaded_at(load.firing)) for load in job.loads.all()]
    studios = {studio.pk: studio for studio, _ in ends}
    cold = (step for step in job.steps.all() if step.does == Handwork.COLD_WORK)
    ends += [(studios[step.studio_id], step.ends_at) for step in cold if step.studio_id in studios]
    for studio, end in ends:
        ready[studio] = max(end, ready.get(studio, end))
    last = max(ready, key=lambda studio: (ready[studio], studio.pk))
    for studio, at in ready.items():
        yield _job_ready(job, studio, at if studio != last else job.ready_at or at, among=ready)


def _job_ready(
    job: KilnJob, studio: Studio, ready: dt.datetime, *, among: Collection[Studio]
) -> CalendarEvent:
    """Where one studio fires all of it, its event keeps its name when that is another."""
    at, split = when(ready, studio), len(among) > 1
    what = f"The pieces that {studio.name} fires are ready from {at}." if split else ""
    return CalendarEvent(
        uid=str(uuid.uuid5(job.uid, f"ready at {studio.slug}" if split else "ready")),
        kind=EventKind.PICK_UP,
        title=f"Ready to collect: {job.title}",
        description=what or f"All pieces are ready from {at}.",
        starts_at=ready,
        ends_at=ready,
        sequence=job.sequence,
        changed_at=job.changed_at,
        opaque=False,
        cancelled=job.status == KilnJobStatus.CANCELLED,
        page=("kiln-jobs-job", str(job.uid)),
        **place_of(studio),
    )


def _of_firing(firing: Firing, **facts: Any) -> CalendarEvent:
    """What all events of a firing share: its place, its changes, and that they take nobody's whole time.

    What broke off is to be annealed again: there is nothing to collect.
    """
    kept_back = facts["kind"] == EventKind.PICK_UP and firing.broken_at is not None
    return CalendarEvent(
        sequence=firing.sequence,
        changed_at=firing.changed_at,
        opaque=facts["kind"] == EventKind.DUTY,
        cancelled=firing.status == CANCELLED or kept_back,
        page=("firing", str(firing.uid)),
        **place_of(firing.equipment.studio),
        **facts,
    )


def _firing_lines(firing: Firing, named: Callable[[Load], bool]) -> Iterator[str]:
    studio = firing.equipment.studio
    yield f"{_courses(firing, named)}."
    ready, hold = when(firing.at_hold_at, studio), degrees(firing.hold_c, studio)
    starts = when(firing.last_in_at, studio)
    waits = f"program starts by itself {starts}; " if ready != starts else ""
    annealer = firing.recipe == Recipe.ANNEAL
    yield f"Holding at {hold} from {ready}." if annealer else f"Door closed {ready}; {waits}soak at {hold}."
    yield f"Cool enough to open from {when(firing.cool_at, studio)}."
    yield f"Unloading: {span_of(firing.unload_at, _unloaded_at(firing), studio)}."


def _courses(firing: Firing, named: Callable[[Load], bool] = lambda _: True) -> str:
    names = dict.fromkeys(
        load_title(load) if named(load) and (load.session or load.job) else "Own work"
        for load in firing.loads.all()
    )
    return " and ".join(names)


def _unloaded_at(firing: Firing) -> dt.datetime:
    """When the shelves are empty; a cancelled firing keeps no occupancy, and would have been by then."""
    if hasattr(firing, "occupancy"):
        return firing.occupancy.ends_at
    return firing.unload_at + firing.equipment.clear_min * MINUTE


def place_of(studio: Studio) -> dict[str, Any]:
    """Where an event is: the studio with its address, its clocks, and its coordinates if known."""
    known = studio.latitude is not None and studio.longitude is not None
    return {
        "location": ", ".join(filter(None, (studio.name, studio.address))),
        "zone": studio.time_zone,
        "geo": (float(studio.latitude or 0), float(studio.longitude or 0)) if known else None,
    }


def span_of(starts_at: dt.datetime, ends_at: dt.datetime, studio: Studio) -> str:
    """A span by the studio's clock; the day of its end is said where it is another."""
    start, end = starts_at.astimezone(studio.zone), ends_at.astimezone(studio.zone)
    until = f"{end:%H:%M}" if start.date() == end.date() else when(ends_at, studio)
    return f"{when(starts_at, studio)} to {until}"
