"""A furnace's charges on their page: where the next one fits, booked in one click; the glass as read."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine

from scheduling.models import BookingStatus, Charge
from studios.models import Person, Pot
from tests.faces.web.conftest import Visit
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


@pytest.fixture
def pot(town: Town) -> Iterator[Pot]:
    """A pot of 100 kg with a floor of 40 kg, on Monday at nine, measured at eight."""
    with time_machine.travel(local(0, 9), tick=False):
        town.courses["blowing"].glass_kg_per_seat = 3.5
        town.courses["blowing"].save()
        pot = Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
        Charge.objects.create(
            furnace=pot.furnace,
            starts_at=local(0, 7),
            ends_at=local(0, 8),
            level_after_kg=80,
            booked_by=town.technician,
        )
        yield pot


@pytest.fixture
def address(pot: Pot) -> str:
    return f"/equipment/{pot.furnace.uid}/charges"


def test_the_earliest_charge_that_fits_is_filled_in_and_booked(
    town: Town, visit: Visits, address: str
) -> None:
    page = visit(town.technician).get(address)
    (day,), (time,) = page.all("input", name="day")[:1], page.all("input", name="time")[:1]

    visitor = visit(town.technician)
    answer = visitor.post(address, day=day["value"], time=time["value"])

    charge = Charge.objects.charges().get(starts_at__gt=local(0, 9))
    assert "In the pot now 80 kg" in page.words
    assert "It fits from" in page.words
    assert (
        f"{charge.starts_at.astimezone(town.hot_shop.zone):%Y-%m-%d %H:%M}"
        == f"{day['value']} {time['value']}"
    )
    assert charge.level_after_kg == 100
    assert "then 100 kg" in answer.words


def test_a_charge_over_a_class_is_refused_beside_its_time(town: Town, visit: Visits, address: str) -> None:
    book(town, "blowing", local(1, 18))
    visitor = visit(town.technician)

    page = visitor.post(address, day="2031-03-04", time="12:00")

    assert visitor.status == 409
    assert "a charge takes all its places" in page.words
    assert not Charge.objects.charges().filter(starts_at__gt=local(0, 9)).exists()


def test_it_is_looked_for_before_a_certain_time(town: Town, visit: Visits, address: str) -> None:
    page = visit(town.technician).get(address, day="2031-03-03", time="12:00")

    assert "cannot be charged by Mon 3 Mar 12:00" in page.words


def test_a_level_is_entered_and_what_runs_dry_is_said(
    town: Town, visit: Visits, pot: Pot, address: str
) -> None:
    book(town, "blowing", local(1, 18))

    page = visit(town.technician).post(f"/equipment/{pot.furnace.uid}/level", level_kg="50")

    assert "In the pot now 50 kg" in page.words
    assert "Too little glass by then: blowing, Tue 4 Mar 2031, 18:00 CST." in page.words


def test_a_level_that_no_pot_holds_is_refused_beside_its_field(town: Town, visit: Visits, pot: Pot) -> None:
    visitor = visit(town.technician)

    page = visitor.post(f"/equipment/{pot.furnace.uid}/level", level_kg="400")

    assert visitor.status == 409
    assert "The pot holds from 0 to 100 kg." in page.words


def test_a_charge_to_come_is_given_up(town: Town, visit: Visits, address: str) -> None:
    visitor = visit(town.technician)
    visitor.post(address, day="2031-03-06", time="08:00")
    charge = Charge.objects.charges().get(starts_at=local(3, 8))

    page = visitor.post(f"/charges/{charge.uid}/give-up")

    charge.refresh_from_db()
    assert charge.status == BookingStatus.CANCELLED
    assert "None is booked." in page.words


def test_the_way_to_it_is_on_the_page_of_the_furnace(
    town: Town, visit: Visits, pot: Pot, address: str
) -> None:
    page = f"/equipment/{pot.furnace.uid}"

    assert visit(town.technician).get(page).all("a", href=address)
    assert not visit(town.student).get(page).all("a", href=address)
