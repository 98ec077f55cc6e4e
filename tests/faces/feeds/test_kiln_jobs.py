"""A kiln job in calendars: its firings, when all of it is ready, and what is done for it by hand."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.ical.event import CalendarEvent, EventKind
from scheduling.models import About, Firing, KilnJob
from scheduling.selectors.held import viewer_of
from scheduling.selectors.kiln_ready import handed_back
from scheduling.selectors.own_events import own_events
from scheduling.selectors.studio_events import duty_events, equipment_events, studio_events
from scheduling.services.actuals import record_actual
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.kiln_jobs import SizeAsked
from studios.models import Person
from tests.faces.feeds.test_new_at_once import reader
from tests.services.kiln_work import (
    a_job,
    answered,
    booked,
    by_hand,
    far_kiln,
    load_at,
    split_plan,
    with_shelves,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


@pytest.fixture
def job(town: Town, clock: time_machine.Traveller) -> KilnJob:
    """A student's dish and an instructor's: fused on Tuesday night, worked cold on Friday."""
    kiln = with_shelves(town)
    sizes = [SizeAsked(count=2, length_mm=150, width_mm=150, makers=(town.student,))]
    asked = a_job(town, sizes=sizes)
    load = load_at(asked, kiln, local(1, 18))
    handwork = [
        by_hand(load, Handwork.WASH_SHELVES, local(1, 9), 15),
        by_hand(load, Handwork.COLD_WORK, local(4, 10), 60, town.equipment["saw"]),
    ]
    return booked(asked, load, actor=town.instructor, handwork=handwork)


def own(person: Person) -> list[CalendarEvent]:
    return list(own_events(person, local(0, 0), local(20, 0)))


def test_its_owner_sees_its_firings_and_when_all_of_it_is_ready(town: Town, job: KilnJob) -> None:
    found = {event.kind: event for event in own(town.instructor)}

    assert set(found) == {EventKind.FIRING, EventKind.PICK_UP}
    assert found[EventKind.FIRING].description.startswith("Fair dishes.")
    ready = found[EventKind.PICK_UP]
    assert (ready.title, ready.starts_at) == ("Ready to collect: Fair dishes", local(4, 11))


def test_who_made_a_piece_sees_when_it_is_ready_and_others_see_nothing(town: Town, job: KilnJob) -> None:
    assert [event.title for event in own(town.student)] == ["Ready to collect: Fair dishes"]
    assert own(town.other_student) == []


def test_fired_at_two_studios_it_is_ready_at_each_by_itself(
    town: Town, clock: time_machine.Traveller
) -> None:
    kiln, far = with_shelves(town), far_kiln(town)
    job = a_job(town, studios=[town.flame, town.hot_shop])
    book(actor=town.instructor, answer=answered(job, split_plan(job, kiln, far)))

    ready = [event for event in own(town.instructor) if event.kind == EventKind.PICK_UP]

    here, there = handed_back(job)
    assert [event.starts_at for event in ready] == [here.at, there.at]
    assert len({event.uid for event in ready}) == 2
    assert ready[0].description.startswith("The pieces that Flame fires are ready from ")
    assert ready[1].description.startswith("The pieces that Hot shop fires are ready from ")


def test_called_off_it_is_in_no_calendar(town: Town, job: KilnJob) -> None:
    cancel(actor=town.instructor, job=job)

    assert [event for event in own(town.student) if not event.cancelled] == []
    assert [event for event in own(town.instructor) if not event.cancelled] == []


def test_in_a_studios_calendar_it_is_named_to_who_may_know_it(town: Town, job: KilnJob) -> None:
    said = {
        person.name: [
            event.description.partition("\n")[0]
            for event in studio_events(town.flame, viewer_of(person), local(0, 0), local(20, 0))
        ]
        for person in (town.technician, town.other_student)
    }

    assert said == {"Technician": ["Fair dishes."], "Other_Student": ["Own work."]}


def test_handwork_is_a_duty_and_the_station_is_held_for_it(town: Town, job: KilnJob) -> None:
    viewer, days = viewer_of(town.technician), (local(0, 0), local(20, 0))

    duties = {event.title: event for event in duty_events(town.flame, viewer, *days)}
    (held,) = equipment_events(town.equipment["saw"], viewer, *days)
    (hidden,) = equipment_events(town.equipment["saw"], viewer_of(town.other_student), *days)

    labels = ", ".join(job.pieces.order_by("number").values_list("label", flat=True))
    assert set(duties) == {
        "Wash the shelves: kiln, 2 pieces",
        "Load: kiln",
        "Switch on: kiln",
        "Unload: kiln",
        f"Cold work: saw, {labels}",
    }
    assert duties["Wash the shelves: kiln, 2 pieces"].description == "For: Fair dishes, Instructor."
    assert held.title == "Fair dishes: cold work"
    assert hidden.title == "Cold work"
    assert "Instructor" not in hidden.description


def test_calendars_are_written_anew_when_it_moves_and_when_it_is_called_off(
    town: Town, job: KilnJob, clock: time_machine.Traveller
) -> None:
    readers = [
        reader(town.instructor),
        reader(town.student),
        reader(town.technician, about=About.DUTIES, studio=town.flame),
    ]

    clock.move_to(local(2, 9))
    record_actual(actor=town.technician, firing=Firing.objects.get(), kind="last-in", at=local(2, 8, 30))
    moved = [one.asks()[0] for one in readers]
    again = [one.asks()[0] for one in readers]
    cancel(actor=town.instructor, job=job)
    called_off = [one.asks()[0] for one in readers]

    # It is ready when its cold work is done, as it was to be.
    assert (moved, again) == ([200, 304, 200], [304] * 3)
    assert called_off == [200] * 3
