"""A piece of equipment: what it is held for next, how it behaves, its calendar and its cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine

from scheduling.models import FeedKey, Firing, Outage
from studios.models import Person
from tests.faces.web.bookings import a_class, a_torch
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


@pytest.fixture(autouse=True)
def _monday_morning(town: Town) -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


def page_of(town: Town, name: str) -> str:
    return f"/equipment/{town.equipment[name].uid}"


def test_it_lists_what_it_is_held_for_next_with_the_way_there(town: Town, visit: Visits) -> None:
    a_class(town)
    firing = Firing.objects.get()

    page = visit(town.student).get(page_of(town, "annealer 1"))

    assert page.all("a", href=f"/firings/{firing.uid}")
    assert "blowing: anneal, Instructor taken until Wed 5 Mar" in page.words


def test_what_is_over_is_not_listed(town: Town, visit: Visits) -> None:
    a_class(town)
    visitor = visit(town.student)

    with time_machine.travel(local(6, 9), tick=False):
        page = visitor.get(page_of(town, "annealer 1"))

    assert "Nothing is booked at it from now on. See the week" in page.words


def test_who_sits_at_a_torch_is_named_to_those_who_see_names(town: Town, visit: Visits) -> None:
    a_torch(town, 2, town.other_student)
    torch = f"/equipment/{town.torches[1].uid}"

    assert f"Bench time, {town.other_student}" in visit(town.technician).get(torch).words
    assert str(town.other_student) not in visit(town.student).get(torch).words


def test_an_outage_ahead_is_said_first(town: Town, visit: Visits) -> None:
    Outage.objects.create(
        equipment=town.equipment["annealer 1"],
        starts_at=local(2, 8),
        ends_at=local(3, 8),
        reason="new elements",
    )

    page = visit(town.student).get(page_of(town, "annealer 1"))

    assert "Out of use from Wed 5 Mar, 08:00 to Thu 6 Mar, 08:00: new elements" in page.words


def test_how_it_heats_and_cools_is_said_in_hours(town: Town, visit: Visits) -> None:
    """τ 4 h in a room of 30 °C: from 500 to 50 °C 4 h · ln(470/20) = 12 h 38 min, at first 117.5 °C/h."""
    page = visit(town.student).get(page_of(town, "annealer 1"))

    assert "From 500 °C by itself down to 50 °C (122 °F) 12 h 38 min" in page.words
    assert "With the heat off it falls at 500 °C by 117 °C/h" in page.words
    assert "kWh a day" in page.words


def test_every_piece_of_equipment_has_a_page_with_its_own_cautions(town: Town, visit: Visits) -> None:
    visitor = visit(town.technician)

    for name, one in town.equipment.items():
        page = visitor.get(page_of(town, name))

        assert visitor.status == 200, name
        lights_gas = one.kind in {"furnace", "glory-hole", "pipe-warmer", "torch"}
        assert ("Only trained people light" in page.words) == lights_gas, name
        assert "Local codes, the makers’ instructions and licensed practice decide. All" in page.words, name


def test_its_calendar_is_one_press_away_and_then_it_is_there(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    form = {
        one["name"]: one["value"] for one in visitor.get(page_of(town, "kiln")).all("input", type="hidden")
    }

    visitor.post("/calendars", **form)

    assert FeedKey.objects.get().equipment == town.equipment["kiln"]
    page = visitor.get(page_of(town, "kiln"))
    assert "You have a link to it, called “kiln”." in page.words
    assert not page.all("input", name="about")


def test_the_room_of_a_log_is_typed_in_the_degrees_of_who_types(town: Town, visit: Visits) -> None:
    town.technician.units = "us"
    town.technician.save()

    page = visit(town.technician).get(page_of(town, "annealer 1"))

    assert "Ambient during the log (°F)" in page.words
    assert page.all("input", name="ambient_c", value="86")


def test_who_sets_it_up_finds_the_way_there(town: Town, visit: Visits) -> None:
    address = page_of(town, "annealer 1")

    ways = {one["href"] for one in visit(town.technician).get(address).all("a")}

    assert {f"{address}/set-up", f"{address}/record", f"{address}/outage"} <= ways
    assert f"{address}/set-up" not in {one["href"] for one in visit(town.student).get(address).all("a")}
