"""The furnace pot: sessions draw from it, a charge fills it, and it never falls below its floor."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.engine.charges import propose_charge
from scheduling.engine.clock import moment
from scheduling.engine.records import Refusal
from scheduling.errors import ChargeNeeded, InvalidInput, NoPot, NoStart, NotAllowed, Over
from scheduling.models import BookingStatus, Charge, Occupancy
from scheduling.services.cancelling import cancel_session
from scheduling.services.charges import book_charge, cancel_charge
from scheduling.snapshot import horizon_around, load_world
from studios.models import Pot, StaffedHours
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def pot(town: Town) -> Pot:
    """A pot of 100 kg with a floor of 40 kg; a blowing class of six draws 21 kg."""
    course = town.courses["blowing"]
    course.glass_kg_per_seat = 3.5
    course.save()
    return Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)


def charge(town: Town, starts_at: dt.datetime, level: float | None = None) -> Charge:
    """The technician books a charge."""
    return book_charge(
        actor=town.technician, furnace=town.equipment["furnace"], starts_at=starts_at, level_after_kg=level
    )


def test_a_charge_takes_all_places_from_turn_up_to_the_end_of_coming_down(town: Town, pot: Pot) -> None:
    booked = charge(town, local(1, 8))

    assert booked.ends_at - booked.starts_at == dt.timedelta(hours=24)
    assert booked.level_after_kg == 100
    assert list(booked.occupancies.values_list("place", flat=True)) == [1, 2, 3]
    phases = booked.occupancies.first().phases  # type: ignore[union-attr]  # there are three
    kinds = list(phases.values_list("kind", flat=True))
    assert kinds == ["heat-up", *["charging", "holding"] * 3, "charging", "fining", "cooling"]
    assert [phases.first().from_c, phases.last().to_c] == [1150, 1150]  # type: ignore[union-attr]  # see above
    assert set(phases.filter(kind="charging").values_list("from_c", flat=True)) == {1260}


def test_nobody_works_at_a_furnace_that_is_charged(town: Town, pot: Pot) -> None:
    charge(town, local(1, 8))

    with pytest.raises(NoStart, match="furnace is held by the charge of its pot until Wed 5 Mar 08:00"):
        book(town, "blowing", local(1, 18))

    book(town, "blowing", local(2, 10))


def test_each_charge_needs_somebody_who_may(town: Town, pot: Pot) -> None:
    with pytest.raises(NoStart, match="Nobody who may charge is there Tue 4 Mar 23:00 to 23:30"):
        charge(town, local(1, 15))  # 17:00, 19:00, 21:00 and 23:00, when the studio is closed

    StaffedHours.objects.filter(studio=town.hot_shop).update(may_charge=False)
    with pytest.raises(NoStart, match="Nobody who may charge"):
        charge(town, local(1, 8))
    assert not Occupancy.objects.exists()


def test_a_charge_never_pushes_a_class_aside(town: Town, pot: Pot) -> None:
    book(town, "blowing", local(1, 18))

    with pytest.raises(NoStart, match=r"furnace is held by blowing .* a charge takes all its places"):
        charge(town, local(1, 8))


def test_a_session_that_would_leave_the_pot_below_its_floor_is_refused(town: Town, pot: Pot) -> None:
    charge(town, local(0, 8))
    book(town, "blowing", local(1, 18))  # 79 kg
    book(town, "blowing", local(2, 18))  # 58 kg

    with pytest.raises(NoStart) as refused:
        book(town, "blowing", local(5, 18))

    assert str(refused.value) == (
        "furnace: the pot would hold 37 kg, its floor is 40 kg; "
        "a charge fits from Thu 6 Mar 06:00 to Fri 7 Mar 06:00."
    )
    charge(town, local(3, 6))
    book(town, "blowing", local(5, 18))


def test_what_is_booked_for_later_keeps_its_glass(town: Town, pot: Pot) -> None:
    charge(town, local(0, 8))
    for day in (8, 9):
        book(town, "blowing", local(day, 18))

    with pytest.raises(NoStart, match="the pot would hold 37 kg, its floor is 40 kg"):
        book(town, "blowing", local(2, 18))


def test_a_class_called_off_leaves_its_glass_and_history_stands_when_a_course_changes(
    town: Town, pot: Pot
) -> None:
    charge(town, local(0, 8))
    first = book(town, "blowing", local(1, 18))
    book(town, "blowing", local(2, 18))
    town.courses["blowing"].glass_kg_per_seat = 3.0
    town.courses["blowing"].save()
    drawn = Occupancy.objects.filter(glass_kg__gt=0).values_list("glass_kg", flat=True)
    assert list(drawn) == [21.0, 21.0]
    book(town, "blowing", local(5, 18))  # 18 kg are just what is left

    with pytest.raises(NoStart, match="the pot would hold 22 kg"):
        book(town, "blowing", local(6, 18))
    cancel_session(actor=town.instructor, session=first)

    book(town, "blowing", local(6, 18))


def test_a_pot_that_nobody_has_charged_yet_refuses_nothing(town: Town, pot: Pot) -> None:
    for day in range(1, 6):
        book(town, "blowing", local(day, 18))


def test_the_first_charge_that_fits_is_proposed_early_and_where_none_fits_the_reason(
    town: Town, pot: Pot
) -> None:
    furnace = town.equipment["furnace"].pk
    book(town, "blowing", local(1, 18))

    with time_machine.travel(local(0, 9, 30), tick=False):
        world = load_world([town.hot_shop], horizon_around(local(0, 9)))
        found = propose_charge(world, furnace)
        assert not isinstance(found, Refusal)
        assert (moment(found[0]), moment(found[1])) == (local(0, 9, 30), local(1, 9, 30))
        for by, code in ((local(1, 9), "furnace-taken"), (local(1, 9, 29), "furnace-taken")):
            none = propose_charge(world, furnace, ends_by=int(by.timestamp() // 60))
            assert isinstance(none, Refusal)
            assert none.reasons[0].code == code
        too_much = propose_charge(world, furnace, kg=61)
        assert isinstance(too_much, Refusal)
        assert too_much.reasons[0].code == "pot-too-small"


def test_a_charge_that_has_started_is_never_shortened(town: Town, pot: Pot) -> None:
    booked = charge(town, local(1, 8))

    with time_machine.travel(local(1, 9), tick=False), pytest.raises(Over, match="never shortened"):
        cancel_charge(actor=town.technician, charge=booked)

    cancel_charge(actor=town.manager, charge=booked)
    assert not Occupancy.objects.filter(charge=booked).exists()
    with pytest.raises(Over, match="called off already"):
        cancel_charge(actor=town.manager, charge=booked)


def test_a_charge_whose_glass_is_sold_is_not_called_off(town: Town, pot: Pot) -> None:
    charge(town, local(0, 8))
    second = charge(town, local(3, 6))
    for day in (1, 2, 5):
        book(town, "blowing", local(day, 18))

    with pytest.raises(ChargeNeeded, match="furnace would fall below its floor: blowing, until Sat 8 Mar"):
        cancel_charge(actor=town.technician, charge=second)
    second.refresh_from_db()
    assert second.status == BookingStatus.BOOKED
    assert second.occupancies.count() == 3


def test_a_charge_that_leaves_too_little_for_what_is_sold_is_refused(town: Town, pot: Pot) -> None:
    charge(town, local(0, 8))
    for day in (5, 6):
        book(town, "blowing", local(day, 18))

    with pytest.raises(ChargeNeeded, match="blowing, until Sun 9 Mar"):
        charge(town, local(2, 8), level=70)
    assert Charge.objects.count() == 1


@pytest.mark.parametrize("who", ["student", "instructor", "stranger"])
def test_who_looks_after_the_studio_charges(town: Town, pot: Pot, who: str) -> None:
    with pytest.raises(NotAllowed, match="needs the role technician"):
        book_charge(actor=getattr(town, who), furnace=town.equipment["furnace"], starts_at=local(1, 8))


def test_a_furnace_without_a_pot_and_a_pot_that_overflows(town: Town) -> None:
    with pytest.raises(NoPot, match="furnace has no pot"):
        charge(town, local(1, 8))
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    for level in (40.0, 101.0):
        with pytest.raises(InvalidInput, match="more than 40 and at most 100 kg"):
            charge(town, local(1, 8), level=level)
