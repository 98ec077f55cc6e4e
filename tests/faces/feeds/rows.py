"""Stored rows as a booking leaves them, with hours chosen for the test."""

from __future__ import annotations

import datetime as dt
from typing import Any

from scheduling.ical.event import CalendarEvent
from scheduling.models import Booking, Course, FeedKey, Firing, Load, Occupancy, PersonSpan, Seat, Session
from scheduling.selectors.feed_links import rolling_calendar
from studios.models import Equipment, EquipmentKind, GlassType, Membership, Person, Role, Studio

MINUTE, HOUR = dt.timedelta(minutes=1), dt.timedelta(hours=1)


def person(name: str, studio: Studio | None = None, role: Role = Role.STUDENT) -> Person:
    found = Person.objects.create_user(f"{name.lower()}@example.test", "pass", name=name)
    if studio:
        Membership.objects.create(person=found, studio=studio, role=role)
    return found


def studio(zone: str = "America/Chicago", **facts: Any) -> Studio:
    name = facts.pop("name", "Quillback Hot Shop")
    return Studio.objects.create(
        name=name, slug=name.split()[0].lower(), time_zone=zone, address="4 Ferry Lane, Tarn Hollow", **facts
    )


def course(name: str = "Evening blowing") -> Course:
    glass, _ = GlassType.objects.get_or_create(
        slug="soft",
        defaults={
            "name": "Soft glass",
            "expansion_1e7_per_k": 96,
            "annealing_c": 510,
            "strain_c": 470,
            "softening_c": 690,
            "youngs_gpa": 70,
            "poisson": 0.22,
            "conductivity_w_per_m_k": 1.2,
            "density_kg_per_m3": 2500,
            "heat_capacity_j_per_kg_k": 1100,
            "source": "invented for this test",
        },
    )
    return Course.objects.create(
        name=name,
        slug=name.lower().replace(" ", "-"),
        minutes=180,
        setup_min=15,
        cleanup_min=10,
        seats=6,
        glass=glass,
        shape="vessel",
        thickness_mm=8,
    )


def equipment(at: Studio, kind: EquipmentKind, name: str) -> Equipment:
    return Equipment.objects.create(studio=at, kind=kind, name=name, clear_min=20)


def session(taught: Course, at: Studio, by: Person, starts_at: dt.datetime, **facts: Any) -> Session:
    return Session.objects.create(
        booking=Booking.objects.create(studio=at, booked_by=by),
        course=taught,
        studio=at,
        instructor=by,
        starts_at=starts_at,
        ends_at=starts_at + 3 * HOUR,
        seats=6,
        **facts,
    )


def teaching(meeting: Session, before: dt.timedelta, after: dt.timedelta) -> PersonSpan:
    """The hours that whoever teaches gives to a session."""
    return PersonSpan.objects.create(
        person=meeting.instructor,
        studio=meeting.studio,
        session=meeting,
        starts_at=meeting.starts_at - before,
        ends_at=meeting.ends_at + after,
    )


def held(one: Equipment, meeting: Session, before: dt.timedelta, after: dt.timedelta) -> Occupancy:
    """Equipment that a session holds, from its heat-up until it has cooled."""
    return Occupancy.objects.create(
        equipment=one,
        booking=meeting.booking,
        starts_at=meeting.starts_at - before,
        ends_at=meeting.ends_at + after,
        exclusive_from=meeting.starts_at - before,
        exclusive_to=meeting.ends_at,
    )


def firing(annealer: Equipment, meeting: Session, *, cool: dt.timedelta, unload: dt.timedelta) -> Firing:
    """The firing after a session; both times are elapsed from the last piece in."""
    last_in = meeting.ends_at
    found = Firing.objects.create(
        equipment=annealer,
        recipe="anneal",
        hold_c=510,
        at_hold_at=meeting.starts_at,
        last_in_at=last_in,
        cool_at=last_in + cool,
        unload_at=last_in + unload,
        kept_stress_mpa=0.7,
        energy_kwh=31.5,
    )
    out = found.unload_at + annealer.clear_min * MINUTE
    start = meeting.starts_at - 2 * HOUR
    Occupancy.objects.create(
        equipment=annealer, firing=found, starts_at=start, ends_at=out, exclusive_from=start, exclusive_to=out
    )
    load(found, meeting)
    return found


def load(into: Firing, meeting: Session) -> Load:
    return Load.objects.create(
        firing=into,
        session=meeting,
        owner=meeting.instructor,
        glass=meeting.course.glass,
        shape=meeting.course.shape,
        thickness_mm=meeting.course.thickness_mm,
        pieces=6,
        footprint_cm2=600,
        in_from=meeting.starts_at,
        in_until=meeting.ends_at,
    )


def seat(meeting: Session, of: Person, number: int = 1, **facts: Any) -> Seat:
    return Seat.objects.create(
        person=of,
        studio=meeting.studio,
        session=meeting,
        number=number,
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        **facts,
    )


def bench_seat(torch: Equipment, of: Person, starts_at: dt.datetime, **facts: Any) -> Seat:
    return Seat.objects.create(
        person=of,
        studio=torch.studio,
        booking=Booking.objects.create(studio=torch.studio, booked_by=of),
        torch=torch,
        number=torch.number,
        starts_at=starts_at,
        ends_at=starts_at + 2 * HOUR,
        **facts,
    )


def subscribed(owner: Person, now: dt.datetime, **facts: Any) -> list[CalendarEvent]:
    """What a link of somebody shows at a time."""
    rolling = rolling_calendar(FeedKey(person=owner, **facts), now)
    assert rolling is not None
    return list(rolling.file.events)
