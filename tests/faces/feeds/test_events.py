"""What a person's calendar shows."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from scheduling.errors import InvalidInput
from scheduling.ical.event import CalendarEvent, EventKind
from scheduling.models import BookingStatus, Session
from scheduling.selectors.calendar import events_of, home_zone, week_calendar
from studios.models import EquipmentKind, Person, Role, Studio
from tests.faces.feeds import rows
from tests.faces.feeds.conftest import EVENING, Night

DAY = dt.timedelta(days=1)


def around(person: Person) -> list[CalendarEvent]:
    return events_of(person=person, from_at=EVENING - 2 * DAY, to_at=EVENING + 5 * DAY)


def one(person: Person, kind: EventKind) -> CalendarEvent:
    (found,) = (event for event in around(person) if event.kind == kind)
    return found


def by_the_clock(moment: dt.datetime) -> str:
    return f"{moment.astimezone(ZoneInfo('America/Chicago')):%a %H:%M}"


def test_an_instructor_sees_the_class_the_firing_and_the_unloading(night: Night) -> None:
    kinds = [event.kind for event in around(night.instructor)]
    assert kinds == [EventKind.CLASS, EventKind.FIRING, EventKind.DUTY]


def test_a_class_takes_its_time_and_says_who_teaches_and_what_time_they_give(night: Night) -> None:
    rows.teaching(night.session, dt.timedelta(minutes=15), dt.timedelta(minutes=10))

    event = one(night.instructor, EventKind.CLASS)

    assert (event.uid, event.title, event.opaque) == (str(night.session.uid), "Evening blowing", True)
    assert (event.starts_at, event.ends_at) == (EVENING, EVENING + 3 * rows.HOUR)
    assert event.location == "Quillback Hot Shop, 4 Ferry Lane, Tarn Hollow"
    assert event.description.split("\n") == [
        "Taught by Vera.",
        "Set-up begins 15 min before the class.",
        "Clean-up ends 10 min after it.",
    ]


def test_a_class_says_nothing_that_changes_without_it(night: Night) -> None:
    """Who sits in it, and what is held for it, change while nothing of the class does."""
    before = one(night.instructor, EventKind.CLASS)

    rows.seat(night.session, rows.person("Ottoline", night.studio), number=2)
    night.session.booking.occupancies.update(ends_at=EVENING + 9 * rows.HOUR)

    assert one(night.instructor, EventKind.CLASS) == before


def test_an_event_says_where_the_studio_is_if_it_says_so_itself(night: Night) -> None:
    assert one(night.instructor, EventKind.CLASS).geo is None
    Studio.objects.update(latitude="44.977800", longitude="-93.265000")
    assert {event.geo for event in around(night.instructor)} == {(44.9778, -93.265)}


def test_a_firing_runs_beside_from_the_last_piece_to_the_open_door(night: Night) -> None:
    """Twelve hours and forty minutes later the clocks show an hour more: they went forward in the night."""
    event = one(night.instructor, EventKind.FIRING)

    assert (event.title, event.opaque) == ("Anneal: Annealer 1", False)
    assert event.ends_at - event.starts_at == 12 * rows.HOUR + 40 * rows.MINUTE
    assert (by_the_clock(event.starts_at), by_the_clock(event.ends_at)) == ("Sat 21:00", "Sun 10:40")
    assert event.description.split("\n") == [
        "Evening blowing.",
        "Holding at 510 °C from Sat 13 Mar 2027, 18:00 CST.",
        "Cool enough to open from Sun 14 Mar 2027, 10:00 CDT.",
        "Unloading: Sun 14 Mar 2027, 10:40 CDT to 11:00.",
    ]


def test_a_kiln_is_closed_cold_where_an_annealer_is_hot_already(night: Night) -> None:
    type(night.firing).objects.update(recipe="full-fuse", at_hold_at=night.firing.last_in_at)
    event = one(night.instructor, EventKind.FIRING)
    assert event.title == "Full fuse: Annealer 1"
    assert "Door closed Sat 13 Mar 2027, 21:00 CST; soak at 510 °C." in event.description


def test_a_kiln_that_waits_is_closed_before_its_program_starts(night: Night) -> None:
    type(night.firing).objects.update(recipe="full-fuse")
    event = one(night.instructor, EventKind.FIRING)

    assert (
        "Door closed Sat 13 Mar 2027, 18:00 CST; program starts by itself Sat 13 Mar 2027, 21:00 CST; "
        "soak at 510 °C."
    ) in event.description
    assert by_the_clock(event.starts_at) == "Sat 21:00"


def test_unloading_is_a_duty_of_the_next_day_that_rings(night: Night) -> None:
    event = one(night.instructor, EventKind.DUTY)

    assert (event.title, event.opaque, event.alarm_min) == ("Unload Annealer 1", True, 30)
    assert (by_the_clock(event.starts_at), by_the_clock(event.ends_at)) == ("Sun 10:40", "Sun 11:00")
    assert event.uid not in {str(night.session.uid), str(night.firing.uid)}


def test_a_student_sees_the_seat_and_when_to_collect(night: Night) -> None:
    seat, pick_up = around(night.student)

    assert (seat.kind, seat.title, seat.starts_at) == (EventKind.SEAT, "Evening blowing, seat 1", EVENING)
    assert (pick_up.kind, pick_up.opaque) == (EventKind.PICK_UP, False)
    assert pick_up.starts_at == pick_up.ends_at == night.firing.unload_at + 20 * rows.MINUTE
    assert pick_up.description == "Out of Annealer 1 from Sun 14 Mar 2027, 11:00 CDT."


def test_a_torch_in_bench_time_is_named_by_its_number(night: Night) -> None:
    torch = rows.equipment(night.studio, EquipmentKind.TORCH, "Torch 7")
    rows.bench_seat(torch, night.student, EVENING + DAY)
    assert "Bench time, Torch 7" in [event.title for event in around(night.student)]


def test_two_classes_that_share_a_firing_give_one_firing_one_duty_and_one_pick_up(night: Night) -> None:
    later = rows.session(rows.course("Late blowing"), night.studio, night.instructor, EVENING + 4 * rows.HOUR)
    rows.load(night.firing, later)
    rows.seat(later, night.student)

    kinds = [event.kind for event in around(night.instructor)]

    assert sorted(kinds) == sorted([EventKind.CLASS] * 2 + [EventKind.FIRING, EventKind.DUTY])
    assert one(night.instructor, EventKind.FIRING).description.startswith("Evening blowing and Late blowing.")
    assert one(night.student, EventKind.PICK_UP).starts_at == night.firing.occupancy.ends_at


def test_nobody_sees_what_is_not_theirs(night: Night) -> None:
    other = rows.person("Orrin", night.studio, Role.INSTRUCTOR)
    assert around(other) == []


def test_who_owns_pieces_in_a_firing_of_no_class_sees_it_and_need_not_unload(night: Night) -> None:
    owner = rows.person("Tamsin", night.studio)
    load = rows.load(night.firing, rows.session(rows.course("Own"), night.studio, night.instructor, EVENING))
    load.session, load.owner = None, owner
    load.save()

    (firing,) = around(owner)

    assert firing.kind == EventKind.FIRING
    assert firing.description.startswith("Evening blowing and Own work.")


def test_what_was_cancelled_stays_visible(night: Night) -> None:
    Session.objects.update(status=BookingStatus.CANCELLED, sequence=1, changed_at=timezone.now())
    night.firing.occupancy.delete()
    type(night.firing).objects.update(status=BookingStatus.CANCELLED, sequence=1)

    instructor, student = around(night.instructor), around(night.student)

    assert [event.kind for event in instructor] == [EventKind.CLASS, EventKind.FIRING, EventKind.DUTY]
    assert all(event.cancelled and event.sequence == 1 for event in [*instructor, *student])
    assert instructor[-1].ends_at == night.firing.unload_at + 20 * rows.MINUTE


def test_a_cancelled_seat_stays_visible_and_nothing_is_left_to_collect(night: Night) -> None:
    night.session.seat_rows.update(status=BookingStatus.CANCELLED)
    (seat,) = around(night.student)
    assert (seat.kind, seat.cancelled) == (EventKind.SEAT, True)


def test_a_moved_class_moves_its_seats_on_too(night: Night) -> None:
    before = one(night.student, EventKind.SEAT)
    Session.objects.update(sequence=1, changed_at=timezone.now() + DAY)
    after = one(night.student, EventKind.SEAT)
    assert after.sequence == before.sequence + 1
    assert after.changed_at > before.changed_at


def test_temperatures_stand_in_the_unit_of_the_studio(night: Night) -> None:
    Studio.objects.update(temperature_unit="F")
    assert "Holding at 950 °F" in one(night.instructor, EventKind.FIRING).description


def test_a_window_shows_what_touches_it(night: Night) -> None:
    unload_at = night.firing.unload_at
    duty_only = events_of(person=night.instructor, from_at=unload_at, to_at=unload_at + rows.MINUTE)
    in_the_night = events_of(person=night.instructor, from_at=unload_at - rows.MINUTE, to_at=unload_at)
    at_pick_up = events_of(
        person=night.student, from_at=unload_at + 20 * rows.MINUTE, to_at=unload_at + rows.HOUR
    )

    assert [event.kind for event in duty_only] == [EventKind.DUTY]
    assert [event.kind for event in in_the_night] == [EventKind.FIRING]
    assert [event.kind for event in at_pick_up] == [EventKind.PICK_UP]


def test_more_classes_ask_no_more_queries(
    night: Night, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for week in range(1, 5):
        later = rows.session(night.session.course, night.studio, night.instructor, EVENING + week * 7 * DAY)
        rows.firing(night.annealer, later, cool=12 * rows.HOUR, unload=13 * rows.HOUR)

    with django_assert_max_num_queries(14):
        found = events_of(person=night.instructor, from_at=EVENING - DAY, to_at=EVENING + 60 * DAY)

    assert len(found) == 15


def test_a_week_runs_from_monday_to_sunday_by_the_clocks_of_the_persons_studio(night: Night) -> None:
    tenth = week_calendar(person=night.instructor, year=2027, week=10)
    eleventh = week_calendar(person=night.instructor, year=2027, week=11)

    assert [event.kind for event in tenth.events] == [EventKind.CLASS, EventKind.FIRING, EventKind.DUTY]
    assert list(eleventh.events) == []
    assert tenth.name == "Lehrbook: Vera, 2027-W10"


def test_a_night_over_the_end_of_a_week_stands_in_both(night: Night) -> None:
    """The firing begins on Sunday at 21:00 in Chicago, which is Monday already in UTC."""
    sunday = rows.session(night.session.course, night.studio, night.instructor, EVENING + 8 * DAY)
    rows.firing(night.annealer, sunday, cool=12 * rows.HOUR, unload=13 * rows.HOUR)

    eleventh = week_calendar(person=night.instructor, year=2027, week=11)
    twelfth = week_calendar(person=night.instructor, year=2027, week=12)

    assert [event.kind for event in eleventh.events] == [EventKind.CLASS, EventKind.FIRING]
    assert [event.kind for event in twelfth.events] == [EventKind.FIRING, EventKind.DUTY]


@pytest.mark.parametrize(("year", "week"), [(2027, 53), (2027, 0), (1, 1), (9999, 52)])
def test_a_week_that_is_none_is_refused(night: Night, year: int, week: int) -> None:
    with pytest.raises(InvalidInput) as refused:
        week_calendar(person=night.instructor, year=year, week=week)
    assert refused.value.field == "week"


def test_a_subscription_moves_on_at_midnight_and_not_between(night: Night) -> None:
    """Four weeks are kept: the class leaves the window when its day does, by the studio's clocks."""
    midnight = dt.datetime(2027, 4, 11, 0, 0, tzinfo=home_zone(night.instructor))

    def kinds_at(now: dt.datetime) -> list[EventKind]:
        return [event.kind for event in rows.subscribed(night.instructor, now)]

    kept = [EventKind.CLASS, EventKind.FIRING, EventKind.DUTY]
    assert kinds_at(midnight - DAY) == kinds_at(midnight - rows.MINUTE) == kept
    assert kinds_at(midnight) == kinds_at(midnight + 23 * rows.HOUR) == kept[1:]


@pytest.mark.django_db
def test_somebody_of_no_studio_lives_by_utc() -> None:
    assert home_zone(rows.person("Ilex")).key == "UTC"
