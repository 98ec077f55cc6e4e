"""A firing: its moments, its curve, the program to key in, its loads."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scheduling.models import Firing
from scheduling.templatetags.lehrbook import rate
from studios.models import Person
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_it_says_when_the_last_piece_is_in_and_when_the_door_opens(town: Town, visit: Visits) -> None:
    a_class(town)
    firing = Firing.objects.get()
    zone = town.hot_shop.zone

    page = visit(town.student).get(f"/firings/{firing.uid}")

    cool, unload = firing.cool_at.astimezone(zone), firing.unload_at.astimezone(zone)
    assert "Last piece in, soak begins Tue 4 Mar, 21:00" in page.words
    assert f"Cool enough to open Wed 5 Mar, {cool:%H:%M}" in page.words
    assert f"Unloaded from Wed 5 Mar, {unload:%H:%M}" in page.words
    assert [path for path in page.all("path") if path.get("class") == "curve"]


def test_segments_come_in_both_degrees_with_the_rule_that_governed(town: Town, visit: Visits) -> None:
    a_class(town)
    firing = Firing.objects.get()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    hold_f = firing.hold_c * 9 / 5 + 32
    assert f"{firing.hold_c:.0f} °C {hold_f:.0f} °F" in page.words
    assert "the studio's shortest soak" in page.words
    assert len([td for td in page.all("td") if td.get("data-label") == "Governed by"]) == len(firing.segments)


def test_kept_stress_is_shown_with_its_bias(town: Town, visit: Visits) -> None:
    """Gardon and Narayanaswamy 1970: the classical figure is about 60 % of the real stress of sheet."""
    a_class(town)
    firing = Firing.objects.get()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    assert f"{firing.kept_stress_mpa:.2f} MPa by the classical formula" in page.words
    assert f"reckon with about {firing.kept_stress_mpa / 0.6:.2f} MPa" in page.words


def test_a_kiln_begins_its_program_as_the_door_closes(town: Town, visit: Visits) -> None:
    a_class(town, "tiles", local(1, 12))

    page = visit(town.student).get(f"/firings/{Firing.objects.get().uid}")

    assert "Door closed, program begins" in page.words
    assert "tiles, Instructor" in page.words


def test_a_kiln_that_waits_says_when_its_program_starts(town: Town, visit: Visits) -> None:
    """The feeder carries the annealer or the kiln: the kiln starts once the beads are done."""
    town.supplies["kiln feeder"].limit = 8
    town.supplies["kiln feeder"].save()
    town.equipment["kiln"].longest_wait_min = 20 * 60
    town.equipment["kiln"].save()
    a_class(town, "beads", local(1, 10))
    a_class(town, "tiles", local(1, 14))
    firing = Firing.objects.get(equipment__name="kiln")
    zone = town.flame.zone

    page = visit(town.student).get(f"/firings/{firing.uid}")

    closed, starts = firing.at_hold_at.astimezone(zone), firing.last_in_at.astimezone(zone)
    assert closed < starts
    assert f"Door closed, kiln waits Tue 4 Mar, {closed:%H:%M}" in page.words
    assert f"Program starts by itself Tue 4 Mar, {starts:%H:%M}" in page.words


def test_a_firing_called_off_says_so(town: Town, visit: Visits) -> None:
    session = a_class(town)
    firing = Firing.objects.get()
    visitor = visit(town.instructor)
    visitor.post(f"/sessions/{session.uid}/call-off")

    page = visitor.get(f"/firings/{firing.uid}")

    assert visitor.status == 200
    assert "called off" in page.words
    assert not page.all("svg", class_="plot")


def test_a_stranger_finds_no_firing(town: Town, visit: Visits) -> None:
    a_seat(a_class(town), town.student)
    visitor = visit(town.stranger)

    visitor.get(f"/firings/{Firing.objects.get().uid}")

    assert visitor.status == 404


def test_an_annealer_is_held_until_the_last_piece_is_in(town: Town, visit: Visits) -> None:
    """What is keyed in must not go on to the soak while people still work."""
    a_class(town)

    page = visit(town.student).get(f"/firings/{Firing.objects.get().uid}")

    heat_up = "as fast as it goes 510 °C 950 °F until the last piece is in, Tue 4 Mar, 21:00 (3 h) holding"
    assert heat_up in page.words
    assert "2 soak – 510 °C 950 °F" in page.words


def test_a_hold_lasts_as_long_as_the_last_of_the_classes_that_share_it(town: Town, visit: Visits) -> None:
    a_class(town, "beads", local(1, 10))
    a_class(town, "beads", local(1, 14))

    page = visit(town.student).get(f"/firings/{Firing.objects.get().uid}")

    assert "until the last piece is in, Tue 4 Mar, 17:00 (7 h)" in page.words


def test_a_kiln_program_holds_as_stored(town: Town, visit: Visits) -> None:
    a_class(town, "tiles", local(1, 12))
    firing = Firing.objects.get()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    assert "until the last piece is in" not in page.words
    assert "hold: the program" in page.words
    held = [segment for segment in firing.segments if segment["hold_min"]]
    assert len(held) >= 2
    assert page.words.count("none") >= len(firing.segments) - len(held)


@pytest.mark.parametrize(
    ("permitted_c_per_h", "unit", "shown"),
    [(60.7, "C", "60 °C/h"), (60.7, "F", "109 °F/h"), (0.37, "C", "0.37 °C/h"), (220.0, "F", "396 °F/h")],
)
def test_a_rate_is_shown_as_it_is_keyed_in(permitted_c_per_h: float, unit: str, shown: str) -> None:
    """Rounded to the nearest degree it would be faster than permitted, or none at all."""
    assert rate(permitted_c_per_h, unit) == shown
