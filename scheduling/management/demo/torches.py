"""The torches of the main job: a class filled to its last seat, and bench time to the last of the oxygen."""

from __future__ import annotations

import datetime as dt

from scheduling.management.demo.bookings import torch_at, version_at
from scheduling.management.demo.files import Facts
from scheduling.management.demo.job import Job
from scheduling.management.wording import day_time, place_taken
from scheduling.models import BookingStatus, Seat, Session
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Person


def fill_class(job: Job, session: Session) -> None:
    """Give every seat to somebody, and show that one more is refused."""
    facts = job.facts["seats"]
    for key in facts["students"]:
        _class_seat(job, session, job.rows.person(key))
    left = session.seats - session.seat_rows.filter(status=BookingStatus.BOOKED).count()
    job.say(f"Seats left in the class: {left}.")
    _class_seat(job, session, job.rows.person(facts["one_too_many"]))


def fill_bench(job: Job) -> None:
    """Reserve torches until the oxygen is used up; then one more, and one at an overlapping time."""
    facts = job.facts["bench"]
    for one in [*facts["reserved"], facts["one_too_many"], facts["overlapping"]]:
        _bench_torch(job, one, job.starts_at(facts, one["time"]))


def _class_seat(job: Job, session: Session, student: Person) -> None:
    standing = session.seat_rows.filter(person=student, status=BookingStatus.BOOKED).first()
    if standing:
        job.say(f"Stands already: {place_taken(standing)}")
        return

    def reserve() -> str:
        version = version_at(session.studio)
        seat = reserve_class_seat(actor=student, session=session, acknowledged=version)
        return f"Reserved: {place_taken(seat)}"

    job.attempt(reserve, f"a seat for {student}")


def _bench_torch(job: Job, facts: Facts, starts_at: dt.datetime) -> None:
    studio = job.rows.studio(job.facts["bench"]["studio"])
    torch, student = torch_at(studio, facts["torch"]), job.rows.person(facts["person"])
    ends_at = starts_at + dt.timedelta(minutes=facts["minutes"])

    def reserve() -> str:
        seat = reserve_bench_torch(
            actor=student,
            torch=torch,
            starts_at=starts_at,
            ends_at=ends_at,
            acknowledged=version_at(studio),
        )
        return f"Reserved: {place_taken(seat)}"

    booked = Seat.objects.filter(status=BookingStatus.BOOKED, person=student, torch=torch)
    standing = booked.filter(starts_at=starts_at, ends_at=ends_at).first()
    if standing:
        job.say(f"Stands already: {place_taken(standing)}")
        return
    job.attempt(reserve, f"{torch} for {student}, {day_time(starts_at, studio.zone)}, {facts['minutes']} min")
