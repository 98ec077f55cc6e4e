"""What a link to a studio, to one piece of equipment and to duties shows, and to whom it is given."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from scheduling.errors import InvalidInput, NotAllowed
from scheduling.ical.event import CalendarEvent, EventKind
from scheduling.models import About, FeedKey, Occupancy
from scheduling.services.booking import book_session
from scheduling.services.calendars import new_feed_key
from scheduling.services.cancelling import cancel_session
from scheduling.services.charges import book_charge
from scheduling.services.outages import enter_outage
from scheduling.services.seats import reserve_bench_torch
from scheduling.services.series import book_series
from studios.models import Person, Pot
from tests.faces.feeds import rows
from tests.worlds import Town, local

NOW = local(0, 9)


@pytest.fixture(autouse=True)
def monday(db: None) -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def shown(person: Person, about: About, **facts: Any) -> list[CalendarEvent]:
    return rows.subscribed(person, NOW, about=about, **facts)


def blowing(town: Town, day: int = 1) -> Any:
    return book_session(
        actor=town.instructor,
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        starts_at=local(day, 18),
    )


def bench_time(town: Town) -> None:
    reserve_bench_torch(
        actor=town.student, torch=town.torches[6], starts_at=local(2, 14), ends_at=local(2, 16)
    )


def titles(events: list[CalendarEvent]) -> list[str]:
    return [event.title for event in events]


def of(events: list[CalendarEvent], kind: EventKind) -> CalendarEvent:
    (found,) = (event for event in events if event.kind == kind)
    return found


# A studio.


def test_a_studio_shows_its_classes_firings_charges_and_outages_and_nobody_elses(town: Town) -> None:
    blowing(town)
    bench_time(town)
    enter_outage(
        actor=town.technician,
        equipment=town.equipment["annealer 2"],
        starts_at=local(3, 9),
        ends_at=local(3, 12),
        reason="a new door seal",
    )
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    book_charge(actor=town.technician, furnace=town.equipment["furnace"], starts_at=local(4, 8))

    hot_shop, flame = (
        shown(town.student, About.STUDIO, studio=studio) for studio in (town.hot_shop, town.flame)
    )

    assert titles(hot_shop) == [
        "blowing",
        "Anneal: annealer 1",
        "Out of use: annealer 2",
        "Charge of furnace",
    ]
    assert [event.opaque for event in hot_shop] == [True, False, True, True]
    assert titles(flame) == ["Bench time, torch 7"]


def test_names_are_shown_as_the_sheet_shows_them_to_the_reader(town: Town) -> None:
    """Who teaches is known to all; who sits at the torch to the staff, and to oneself."""
    bench_time(town)
    blowing(town)

    said = {
        person.name: of(shown(person, About.STUDIO, studio=town.flame), EventKind.SEAT).description
        for person in (town.student, town.other_student, town.technician)
    }
    taught = of(shown(town.other_student, About.STUDIO, studio=town.hot_shop), EventKind.CLASS)

    assert said == {"Student": "For Student.", "Other_Student": "", "Technician": "For Student."}
    assert taught.description == "Taught by Instructor."


def test_own_pieces_in_a_firing_are_named_to_the_staff_alone(town: Town) -> None:
    firing = blowing(town).loads.get().firing
    firing.loads.update(session=None, owner=town.student)

    def said(person: Person) -> str:
        return of(shown(person, About.STUDIO, studio=town.hot_shop), EventKind.FIRING).description

    assert "Pieces of Student." in said(town.technician)
    assert "Pieces of Student." in said(town.student)
    assert "Student" not in said(town.other_student)


def test_a_studio_shows_a_weekly_class_whole(town: Town) -> None:
    book_series(
        actor=town.instructor,
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        days=[local(day, 0).date() for day in (1, 8, 22)],
        time=dt.time(18),
    )

    event = of(shown(town.student, About.STUDIO, studio=town.hot_shop), EventKind.CLASS)

    assert event.weekly is not None
    assert (event.weekly.until, event.weekly.skipped) == (local(22, 18), (local(15, 18),))


def test_a_class_that_is_called_off_is_seen_so(town: Town) -> None:
    cancel_session(actor=town.instructor, session=blowing(town))
    assert of(shown(town.student, About.STUDIO, studio=town.hot_shop), EventKind.CLASS).cancelled


# One piece of equipment.


def test_equipment_shows_its_hours_with_the_heat_before(town: Town) -> None:
    session = blowing(town)
    hole = town.equipment["hole 1"]

    (event,) = shown(town.student, About.EQUIPMENT, equipment=hole)

    held = Occupancy.objects.get(equipment=hole)
    assert (event.kind, event.title) == (EventKind.CLASS, "blowing")
    assert (event.starts_at, event.ends_at) == (held.exclusive_from, held.exclusive_to)
    assert event.starts_at < session.starts_at
    lines = event.description.split("\n")
    assert lines[0] == "hole 1, for Instructor."
    assert lines[1].startswith("Heat-up from Tue 4 Mar 2031, ")
    assert lines[2] == "Working from Tue 4 Mar 2031, 18:00 CST."
    assert event.page == ("session", str(session.uid))


def test_a_firing_holds_its_kiln_from_heat_up_to_empty_shelves(town: Town) -> None:
    blowing(town)
    annealer = town.equipment["annealer 1"]

    (event,) = shown(town.student, About.EQUIPMENT, equipment=annealer)

    held = Occupancy.objects.get(equipment=annealer)
    assert (event.kind, event.title, event.opaque) == (EventKind.FIRING, "blowing: anneal", False)
    assert (event.starts_at, event.ends_at) == (held.starts_at, held.ends_at)


def test_the_same_hours_are_the_same_event_and_others_are_another(town: Town) -> None:
    """What is booked beside it moves the heat-up, and nothing says when that was."""
    blowing(town)
    hole = town.equipment["hole 1"]
    (before,), (again,) = (shown(town.student, About.EQUIPMENT, equipment=hole) for _ in range(2))
    held = Occupancy.objects.get(equipment=hole)
    later = held.exclusive_from + dt.timedelta(minutes=20)
    Occupancy.objects.filter(pk=held.pk).update(exclusive_from=later)

    (after,) = shown(town.student, About.EQUIPMENT, equipment=hole)

    assert before == again
    assert after.uid != before.uid


# Duties.


def test_duties_are_what_is_done_when_with_an_alarm(town: Town) -> None:
    blowing(town)

    duties = shown(town.technician, About.DUTIES, studio=town.hot_shop, alarm_min=20)

    assert {event.kind for event in duties} == {EventKind.DUTY}
    assert {event.alarm_min for event in duties} == {20}
    held = {row.equipment.name: row for row in Occupancy.objects.select_related("equipment")}
    first = [(event.title, event.starts_at, event.opaque) for event in duties]
    assert ("Light: hole 1", held["hole 1"].starts_at, False) in first
    assert ("Switch on: annealer 1", held["annealer 1"].starts_at, False) in first
    assert not {title for title, *_ in first if "bench" in title}
    unload = duties[-1]
    assert (unload.title, unload.opaque) == ("Unload: annealer 1", True)
    assert unload.ends_at == held["annealer 1"].ends_at
    assert unload.description == "For: blowing: anneal, Instructor."


def test_a_duty_without_an_alarm_does_not_ring(town: Town) -> None:
    blowing(town)
    duties = shown(town.technician, About.DUTIES, studio=town.hot_shop, alarm_min=None)
    assert {event.alarm_min for event in duties} == {None}


def test_equipment_that_is_alike_is_one_duty(town: Town) -> None:
    book_session(
        actor=town.instructor,
        course=town.courses["beads"],
        studio=town.flame,
        instructor=town.instructor,
        starts_at=local(1, 18),
    )
    torches = ", ".join(f"torch {number}" for number in range(1, 6))
    duties = shown(town.technician, About.DUTIES, studio=town.flame)
    assert f"Purge and check: {torches}" in titles(duties)


def test_the_own_unloading_rings_as_the_link_says(town: Town) -> None:
    blowing(town)
    rings = [
        of(rows.subscribed(town.instructor, NOW, alarm_min=minutes), EventKind.DUTY).alarm_min
        for minutes in (None, 0, 90)
    ]
    assert rings == [None, 0, 90]


# What is chosen.


def test_a_link_shows_what_was_chosen(town: Town) -> None:
    blowing(town)
    key = new_feed_key(actor=town.instructor, label="nights", shows=["duty", "firing"])

    events = rows.subscribed(town.instructor, NOW, shows=key.shows)

    assert key.shows == ["firing", "duty"]
    assert [event.kind for event in events] == [EventKind.FIRING, EventKind.DUTY]


def test_all_that_there_is_need_not_be_named(town: Town) -> None:
    every = ["class", "seat", "firing", "duty", "pick-up"]
    assert new_feed_key(actor=town.instructor, label="all", shows=every).shows == []


@pytest.mark.parametrize(
    ("field", "facts"),
    [
        ("shows", {"shows": ["charge"]}),
        ("shows", {"shows": ["cloud"]}),
        ("shows", {"about": About.STUDIO, "studio": "hot_shop", "shows": ["duty"]}),
        ("shows", {"about": About.DUTIES, "studio": "hot_shop", "shows": ["class"]}),
        ("studio", {"about": About.STUDIO}),
        ("studio", {"about": About.DUTIES}),
        ("studio", {"studio": "hot_shop"}),
        ("studio", {"about": About.EQUIPMENT, "studio": "hot_shop", "equipment": "kiln"}),
        ("equipment", {"about": About.EQUIPMENT}),
        ("equipment", {"about": About.STUDIO, "studio": "hot_shop", "equipment": "kiln"}),
        ("alarm_min", {"alarm_min": -1}),
        ("alarm_min", {"alarm_min": 1441}),
    ],
)
def test_a_link_is_about_one_thing_and_shows_what_is_in_it(
    town: Town, field: str, facts: dict[str, Any]
) -> None:
    given = {
        name: {"studio": town.hot_shop, "equipment": town.equipment["kiln"]}.get(name, value)
        for name, value in facts.items()
    }
    with pytest.raises(InvalidInput) as refused:
        new_feed_key(actor=town.technician, label="x", **given)
    assert refused.value.field == field
    assert not FeedKey.objects.exists()


@pytest.mark.parametrize(
    ("who", "about", "allowed"),
    [
        ("student", About.STUDIO, True),
        ("student", About.EQUIPMENT, True),
        ("student", About.DUTIES, False),
        ("instructor", About.DUTIES, True),
        ("technician", About.DUTIES, True),
        ("stranger", About.STUDIO, False),
        ("stranger", About.EQUIPMENT, False),
    ],
)
def test_who_sees_the_sheet_may_follow_what_it_shows(
    town: Town, who: str, about: About, allowed: bool
) -> None:
    kiln = about == About.EQUIPMENT
    facts: dict[str, Any] = {"equipment": town.equipment["kiln"]} if kiln else {"studio": town.flame}

    def make() -> FeedKey:
        return new_feed_key(actor=town.people[who], label="x", about=about, **facts)

    if allowed:
        assert make().about == about
    else:
        with pytest.raises(NotAllowed):
            make()
