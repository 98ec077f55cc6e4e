"""Oxygen in cylinders: classes use it up, deliveries and change-overs fill it, and nobody runs it dry."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import InvalidInput, NoStart, NotAllowed
from scheduling.models import Message, Refill, RefillStatus, Seat
from scheduling.services.cancelling import cancel_session
from scheduling.services.refills import record_refill
from scheduling.services.seats import cancel_seat, reserve_bench_torch
from studios.models import Supply
from tests.services.test_booking import book
from tests.worlds import Town, add_course, local

pytestmark = pytest.mark.django_db
# Five torches at 6 L/min, purged for 5 minutes before 180 minutes of beads.
BEADS_L = 5 * 6 * 185


def cylinders(town: Town, content: float, *, floor: float = 0, change_over: bool = False) -> Supply:
    """The oxygen of the flame studio comes in cylinders, full since the first Monday at 08:00."""
    oxygen = town.supplies["oxygen"]
    oxygen.content, oxygen.floor, oxygen.change_over = content, floor, change_over
    oxygen.save()
    delivered(town, local(0, 8))
    return oxygen


def delivered(town: Town, at: dt.datetime, content: float | None = None) -> Refill:
    """The technician records a delivery."""
    supply = town.supplies["oxygen"]
    return record_refill(actor=town.technician, supply=supply, at=at, content_after=content)


def test_what_a_class_takes_is_its_rate_for_its_minutes_and_the_next_one_finds_the_rest(town: Town) -> None:
    cylinders(town, 2 * BEADS_L)
    book(town, "beads", local(1, 18))
    book(town, "beads", local(3, 18))

    with pytest.raises(NoStart) as refused:
        book(town, "beads", local(5, 18))

    assert str(refused.value) == (
        "oxygen has 0 L left for this and no refill is entered, and this takes 5550 L; "
        "have a delivery recorded before it."
    )


def test_what_is_booked_later_counts_too_until_the_next_delivery(town: Town) -> None:
    cylinders(town, BEADS_L)
    book(town, "beads", local(5, 18))

    with pytest.raises(NoStart, match="oxygen has 0 L left for this and no refill"):
        book(town, "beads", local(1, 18))
    delivered(town, local(4, 9))

    book(town, "beads", local(1, 18))


def test_the_floor_stays_in_the_cylinder(town: Town) -> None:
    cylinders(town, 2 * BEADS_L, floor=1)
    book(town, "beads", local(1, 18))

    with pytest.raises(NoStart, match="oxygen has 5549 L left for this"):
        book(town, "beads", local(3, 18))


def test_a_class_across_a_delivery_takes_from_before_and_after_it(town: Town) -> None:
    cylinders(town, 4000)
    delivered(town, local(1, 19), 3000)  # 65 minutes before it 1,950 L, 120 after it 3,600 L

    with pytest.raises(NoStart, match=r"oxygen has 3000 L left for this and no refill .* takes 3600 L"):
        book(town, "beads", local(1, 18))


def test_a_line_never_runs_dry_and_what_nobody_has_recorded_refuses_nothing(town: Town) -> None:
    book(town, "beads", local(1, 18))
    with pytest.raises(InvalidInput, match="oxygen has no content: it comes through a line"):
        delivered(town, local(0, 8))
    oxygen = town.supplies["oxygen"]
    oxygen.content = 1.0
    oxygen.save()

    book(town, "beads", local(2, 18))


@pytest.mark.parametrize(
    ("begins", "due"),
    [(local(2, 18), local(2, 17, 55)), (local(2, 8, 5), local(2, 8)), (local(2, 8, 4), local(1, 22, 59))],
    ids=["just before it", "as the studio opens", "on the evening before"],
)
def test_a_class_that_would_run_it_dry_brings_a_change_over_within_staffed_hours(
    town: Town, begins: dt.datetime, due: dt.datetime
) -> None:
    add_course(town, "practice", town.flame, "soft-104", {"torch": 5})
    oxygen = cylinders(town, BEADS_L, change_over=True)
    book(town, "beads", local(1, 18))
    assert not oxygen.refills.filter(booking__isnull=False).exists()

    second = book(town, "practice", begins)

    planned = oxygen.refills.get(booking=second.booking)
    assert (planned.at, planned.content_after, planned.status) == (due, BEADS_L, RefillStatus.PLANNED)
    told = Message.objects.get(person=town.technician, subject="Change over oxygen")
    assert f"{due:%H:%M}" in told.body


def test_nothing_is_changed_over_in_the_very_minute_of_a_delivery(town: Town) -> None:
    add_course(town, "practice", town.flame, "soft-104", {"torch": 5})
    oxygen = cylinders(town, BEADS_L, change_over=True)
    delivered(town, local(2, 8), 0)

    with pytest.raises(NoStart, match="no change-over before it is enough either"):
        book(town, "practice", local(2, 8, 5))  # purged from 08:00, as the studio opens

    begun_later = book(town, "practice", local(2, 8, 6))
    assert oxygen.refills.get(booking=begun_later.booking).at == local(2, 8, 1)


def test_a_change_over_goes_with_the_class_that_brought_it(town: Town) -> None:
    oxygen = cylinders(town, BEADS_L, change_over=True)
    book(town, "beads", local(1, 18))
    second = book(town, "beads", local(2, 18))

    cancel_session(actor=town.instructor, session=second)

    assert not oxygen.refills.filter(booking__isnull=False).exists()


def test_a_change_over_that_others_need_by_now_stays(town: Town) -> None:
    oxygen = cylinders(town, BEADS_L, change_over=True)
    book(town, "beads", local(1, 18))
    second = book(town, "beads", local(3, 18))
    brought = oxygen.refills.get(booking=second.booking)
    cancel_session(actor=town.instructor, session=second)
    again = book(town, "beads", local(2, 18))
    assert oxygen.refills.get(booking=again.booking).at < brought.at
    first = book(town, "beads", local(4, 18))

    cancel_session(actor=town.instructor, session=again)

    assert oxygen.refills.filter(booking=first.booking).exists()
    assert not oxygen.refills.filter(booking=again.booking).exists()


def test_a_class_that_goes_takes_away_a_change_over_that_another_class_brought(town: Town) -> None:
    oxygen = cylinders(town, BEADS_L, change_over=True)
    first = book(town, "beads", local(1, 18))
    book(town, "beads", local(2, 18))
    assert oxygen.refills.filter(booking__isnull=False).count() == 1

    cancel_session(actor=town.instructor, session=first)

    assert not oxygen.refills.filter(booking__isnull=False).exists()


def test_more_than_full_cylinders_hold_is_refused_although_they_can_be_changed(town: Town) -> None:
    cylinders(town, BEADS_L - 1, change_over=True)

    with pytest.raises(NoStart, match="no change-over before it is enough either"):
        book(town, "beads", local(1, 18))


def test_a_torch_in_bench_time_uses_it_up_and_gives_it_back(town: Town) -> None:
    oxygen = cylinders(town, 6 * 65, change_over=True)

    def torch(number: int) -> Seat:
        begin = local(1, 10 + 2 * number)
        return reserve_bench_torch(
            actor=town.student,
            torch=town.torches[number],
            starts_at=begin,
            ends_at=begin + dt.timedelta(hours=1),
        )

    torch(0)
    second = torch(1)
    assert oxygen.refills.filter(booking=second.booking).exists()

    cancel_seat(actor=town.student, seat=second)

    assert not oxygen.refills.filter(booking__isnull=False).exists()


def test_who_changed_over_records_it_and_it_is_done(town: Town) -> None:
    oxygen = cylinders(town, BEADS_L, change_over=True)
    book(town, "beads", local(1, 18))
    second = book(town, "beads", local(2, 18))
    due = oxygen.refills.get(booking=second.booking)

    with time_machine.travel(local(2, 17), tick=False):
        row = record_refill(actor=town.technician, supply=oxygen, at=local(2, 16), planned=due)
        with pytest.raises(InvalidInput, match="no planned refill"):
            record_refill(actor=town.technician, supply=oxygen, at=local(2, 16, 1), planned=row)

    assert row.pk == due.pk
    assert (row.status, row.at, row.recorded_by) == (RefillStatus.DONE, local(2, 16), town.technician)


@pytest.mark.parametrize("who", ["student", "instructor", "stranger"])
def test_who_looks_after_the_studio_records_refills(town: Town, who: str) -> None:
    oxygen = cylinders(town, 100)

    with pytest.raises(NotAllowed, match="needs the role technician"):
        record_refill(actor=getattr(town, who), supply=oxygen, at=local(1, 8))


@pytest.mark.parametrize(("content", "field"), [(-1.0, "content_after"), (101.0, "content_after")])
def test_cylinders_hold_no_more_than_full(town: Town, content: float, field: str) -> None:
    cylinders(town, 100)

    with pytest.raises(InvalidInput, match="holds from 0 to 100 L") as refused:
        delivered(town, local(1, 8), content)
    assert refused.value.field == field


def test_one_refill_in_a_minute_and_on_the_minute(town: Town) -> None:
    cylinders(town, 100)

    with pytest.raises(InvalidInput, match="entered for this minute already"):
        delivered(town, local(0, 8))
    with pytest.raises(InvalidInput, match="without seconds"):
        delivered(town, local(0, 9) + dt.timedelta(seconds=1))
