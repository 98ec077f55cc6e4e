"""What turns out otherwise: a delivery that does not come, a pot that holds less than reckoned."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import InvalidInput, NoPot, NoStart, NotAllowed, Over
from scheduling.models import BookingStatus, Charge, Session
from scheduling.selectors.stores import charge_proposal
from scheduling.services.charges import Measured, book_charge, measure_pot
from scheduling.services.refills import record_refill, strike_refill
from scheduling.services.seats import reserve_bench_torch
from studios.models import Pot
from tests.invariants import broken
from tests.services.test_booking import book
from tests.services.test_refills import BEADS_L, cylinders, delivered
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def test_what_is_booked_stands_when_a_delivery_does_not_come_and_what_runs_dry_is_said(town: Town) -> None:
    cylinders(town, BEADS_L)
    delivery = delivered(town, local(2, 9))
    book(town, "beads", local(1, 18))
    late = book(town, "beads", local(3, 18))

    dry = strike_refill(actor=town.technician, refill=delivery)

    assert [(each.what, each.starts_at, each.ends_at) for each in dry] == [
        ("beads", late.starts_at, late.ends_at)
    ]
    assert Session.objects.filter(status=BookingStatus.BOOKED).count() == 2
    with pytest.raises(NoStart, match="no refill is entered"):
        book(town, "beads", local(5, 18))
    assert broken() == []


def test_bench_time_that_runs_dry_is_said_too_and_what_is_over_is_not(town: Town) -> None:
    oxygen = cylinders(town, 6 * 65)
    deliveries = [delivered(town, local(day, 9)) for day in (1, 2)]
    for day in (0, 1, 2):
        reserve_bench_torch(
            actor=town.student, torch=town.torches[0], starts_at=local(day, 15), ends_at=local(day, 16)
        )

    with time_machine.travel(local(1, 17), tick=False):
        struck = [strike_refill(actor=town.technician, refill=delivery) for delivery in deliveries]

    # Of one torch; the purging before its hour counts.
    hour = [("Bench time at torch 1", local(2, 14, 55), local(2, 16))]
    assert [[(each.what, each.starts_at, each.ends_at) for each in dry] for dry in struck] == [[], hour]
    assert oxygen.refills.count() == 1


def test_a_change_over_that_a_class_brought_may_be_struck(town: Town) -> None:
    oxygen = cylinders(town, BEADS_L, change_over=True)
    book(town, "beads", local(1, 18))
    second = book(town, "beads", local(2, 18))

    dry = strike_refill(actor=town.technician, refill=oxygen.refills.get(booking=second.booking))

    assert [each.starts_at for each in dry] == [second.starts_at]


def test_only_what_is_planned_is_struck_and_once(town: Town) -> None:
    oxygen = cylinders(town, 100)
    planned = delivered(town, local(3, 9))
    with time_machine.travel(local(2, 17), tick=False):
        done = record_refill(actor=town.technician, supply=oxygen, at=local(2, 16))
    strike_refill(actor=town.technician, refill=planned)
    planned.pk = done.pk + 1

    with pytest.raises(Over, match="This refill of oxygen is struck already"):
        strike_refill(actor=town.technician, refill=planned)
    with pytest.raises(Over, match="This refill of oxygen is done"):
        strike_refill(actor=town.technician, refill=done)


@pytest.fixture
def pot(town: Town) -> Pot:
    """A pot of 100 kg with a floor of 40 kg, full from Tuesday 08:00; a class of six draws 21 kg."""
    town.courses["blowing"].glass_kg_per_seat = 3.5
    town.courses["blowing"].save()
    pot = Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(0, 8))
    return pot


def measured(town: Town, at: dt.datetime, level_kg: float, now: dt.datetime | None = None) -> Measured:
    """The technician enters what the pot holds, at once unless it is said when."""
    with time_machine.travel(now or at, tick=False):
        return measure_pot(actor=town.technician, furnace=town.equipment["furnace"], at=at, level_kg=level_kg)


def test_less_glass_than_reckoned_counts_from_its_minute_on(town: Town, pot: Pot) -> None:
    book(town, "blowing", local(1, 18))
    second = book(town, "blowing", local(2, 18))

    low = measured(town, local(2, 9), 50)

    assert [(each.what, each.starts_at) for each in low.runs_dry] == [("blowing", second.starts_at)]
    assert Session.objects.filter(status=BookingStatus.BOOKED).count() == 2
    with time_machine.travel(local(2, 9), tick=False):
        found = charge_proposal(furnace=pot.furnace)
        assert (found.level_kg, found.level_before_next_charge_kg) == (50, 29)
        with pytest.raises(NoStart, match="the pot would hold 8 kg, its floor is 40 kg"):
            book(town, "blowing", local(3, 18))


def test_more_glass_than_reckoned_is_there_for_one_more_class(town: Town, pot: Pot) -> None:
    for day in (1, 2):
        book(town, "blowing", local(day, 18))
    with pytest.raises(NoStart, match="the pot would hold 37 kg"):
        book(town, "blowing", local(3, 18))

    assert measured(town, local(2, 9), 85).runs_dry == ()

    with time_machine.travel(local(2, 10), tick=False):
        book(town, "blowing", local(3, 18))


def test_a_charge_counts_anew_after_what_was_measured(town: Town, pot: Pot) -> None:
    measured(town, local(1, 9), 41)
    book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(2, 8))

    book(town, "blowing", local(3, 18))


def test_of_two_levels_in_a_minute_the_later_entry_counts(town: Town, pot: Pot) -> None:
    measured(town, local(1, 9), 90)
    measured(town, local(1, 9), 60, now=local(1, 9, 5))

    assert Charge.objects.measured().get().level_after_kg == 60
    assert Charge.objects.charges().count() == 1


def test_a_level_takes_no_place_and_a_charge_called_off_is_no_level(town: Town, pot: Pot) -> None:
    measured(town, local(1, 12), 90)
    Charge.objects.charges().update(status=BookingStatus.CANCELLED)
    Charge.objects.charges().get().occupancies.all().delete()

    assert Charge.objects.charges().count() == Charge.objects.measured().count() == 1
    with time_machine.travel(local(1, 12), tick=False):
        book(town, "blowing", local(1, 18))


@pytest.mark.parametrize(
    ("at", "level_kg", "field"),
    [
        (local(1, 12), -1.0, "level_kg"),
        (local(1, 12), 100.5, "level_kg"),
        (local(1, 12, 1), 90.0, "at"),
        (local(1, 11, 59) + dt.timedelta(seconds=1), 90.0, "at"),
        (local(1, 8), 90.0, "at"),
    ],
    ids=["less than nothing", "more than it holds", "in the future", "seconds", "as a charge ends"],
)
def test_a_level_that_cannot_be(town: Town, pot: Pot, at: dt.datetime, level_kg: float, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        measured(town, at, level_kg, now=local(1, 12))
    assert refused.value.field == field


def test_who_may_charge_measures_and_a_furnace_without_a_pot_has_no_level(town: Town, pot: Pot) -> None:
    for who in (town.student, town.instructor, town.stranger):
        with pytest.raises(NotAllowed, match="needs the role technician"):
            measure_pot(actor=who, furnace=pot.furnace, at=local(0, 8), level_kg=50)
    pot.delete()
    with pytest.raises(NoPot):
        measured(town, local(1, 12), 50)


@pytest.mark.parametrize("who", ["student", "instructor", "stranger"])
def test_who_looks_after_the_studio_strikes_refills(town: Town, who: str) -> None:
    cylinders(town, 100)
    planned = delivered(town, local(3, 9))

    with pytest.raises(NotAllowed, match="needs the role technician"):
        strike_refill(actor=getattr(town, who), refill=planned)
