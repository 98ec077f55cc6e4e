"""The classes of the main job: two booked, one refused, one that joins a firing."""

from __future__ import annotations

from scheduling.management.demo.files import Facts
from scheduling.management.demo.job import Job
from scheduling.management.holdings import held_by
from scheduling.management.wording import day_time, meeting
from scheduling.models import BookingStatus, Firing, Session
from scheduling.services.booking import book_session


def two_classes(job: Job) -> list[Session]:
    """Book the two classes, or find them, and tell all that they hold."""
    sessions = []
    for facts in job.facts["class"]:
        session = _booked(job, facts)
        job.say(f"It holds, by the clocks of {session.studio.time_zone}:")
        _tell_held(job, session)
        sessions.append(session)
    return sessions


def contend(job: Job, first: Session) -> None:
    """Ask for the annealer of that night twice more: for glass that does not agree with it, and that does."""
    refused, joins = job.facts["refused"], job.facts["joins"]
    studio = job.rows.studio(refused["studio"])
    wished = day_time(job.starts_at(refused, refused["time"]), studio.zone)
    job.attempt(
        lambda: f"Booked: {meeting(_book(job, refused))}",
        f"{job.rows.course(refused['course'])} at {studio}, {wished}",
    )
    before = Firing.objects.get(loads__session=first)
    moved = _standing(job, joins) is None
    session = _booked(job, joins)
    _tell_joined(job, before, Firing.objects.get(loads__session=session), moved=moved)
    _tell_held(job, session)


def _tell_joined(job: Job, before: Firing, after: Firing, *, moved: bool) -> None:
    if after.pk != before.pk:
        job.say(f"It has a firing of its own in {after.equipment}.")
        return
    loads = after.loads.count()
    job.say(f"Its glass agrees: it joins the firing in {after.equipment}, which now has {loads} loads.")
    if moved:
        job.say(f"  Before: {_moments(before)}")
    job.say(f"  Now:    {_moments(after)}")


def _moments(firing: Firing) -> str:
    zone = firing.equipment.studio.zone
    last_in, cool, unload = (
        day_time(moment, zone) for moment in (firing.last_in_at, firing.cool_at, firing.unload_at)
    )
    return f"last piece in {last_in}, cool enough to open {cool}, unloaded from {unload}"


def _booked(job: Job, facts: Facts) -> Session:
    standing = _standing(job, facts)
    session = standing or _book(job, facts)
    job.say(f"{'Stands already' if standing else 'Booked'}: {meeting(session)}")
    return session


def _standing(job: Job, facts: Facts) -> Session | None:
    return Session.objects.filter(
        status=BookingStatus.BOOKED,
        course=job.rows.course(facts["course"]),
        studio=job.rows.studio(facts["studio"]),
        instructor=job.rows.person(_instructor(job, facts)),
        starts_at=job.starts_at(facts, facts["time"]),
    ).first()


def _book(job: Job, facts: Facts) -> Session:
    instructor = job.rows.person(_instructor(job, facts))
    return book_session(
        actor=instructor,
        course=job.rows.course(facts["course"]),
        studio=job.rows.studio(facts["studio"]),
        instructor=instructor,
        starts_at=job.starts_at(facts, facts["time"]),
    )


def _instructor(job: Job, facts: Facts) -> str:
    return str(facts.get("instructor", job.facts["instructor"]))


def _tell_held(job: Job, session: Session) -> None:
    for line in held_by(session, session.instructor):
        job.say(f"  {line}")
    job.say("")
