"""A firing: its moments, its curve, the program to key in, its loads."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine

from scheduling.models import Firing
from scheduling.services.actuals import record_actual, strike_actual
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
    assert "Rate (°C/h) To (°C) Hold (h:min)" in page.words
    assert f"{firing.hold_c:.0f} {hold_f:.0f} °F" in page.words
    assert "the studio’s shortest soak" in page.words
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

    heat_up = (
        "1 heat-up as fast as it goes 510 950 °F 3:00 holding, until the last piece is in: Tue 4 Mar, 21:00"
    )
    assert heat_up in page.words
    assert "2 soak – it is there already 510 950 °F" in page.words


def test_a_hold_lasts_as_long_as_the_last_of_the_classes_that_share_it(town: Town, visit: Visits) -> None:
    a_class(town, "beads", local(1, 10))
    a_class(town, "beads", local(1, 14))

    page = visit(town.student).get(f"/firings/{Firing.objects.get().uid}")

    assert "7:00 holding, until the last piece is in: Tue 4 Mar, 17:00" in page.words


def test_a_kiln_program_holds_as_stored(town: Town, visit: Visits) -> None:
    a_class(town, "tiles", local(1, 12))
    firing = Firing.objects.get()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    assert "until the last piece is in" not in page.words
    assert "hold: the program" in page.words
    held = [segment for segment in firing.segments if segment["hold_min"]]
    assert len(held) >= 2
    assert page.words.count(" 0:00 ") >= len(firing.segments) - len(held)


@pytest.mark.parametrize(
    ("permitted_c_per_h", "unit", "shown"),
    [(60.7, "C", "60 °C/h"), (60.7, "F", "109 °F/h"), (0.37, "C", "0.37 °C/h"), (220.0, "F", "396 °F/h")],
)
def test_a_rate_is_shown_as_it_is_keyed_in(permitted_c_per_h: float, unit: str, shown: str) -> None:
    """Rounded to the nearest degree it would be faster than permitted, or none at all."""
    assert rate(permitted_c_per_h, unit) == shown


def test_it_says_when_pieces_may_be_touched_with_bare_hands(town: Town, visit: Visits) -> None:
    """From the door temperature on it cools by itself: 4 h · ln((50 − 30)/(40 − 30)) = 2 h 47 min."""
    a_class(town)
    firing = Firing.objects.get()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    touch = (firing.cool_at + dt.timedelta(minutes=167)).astimezone(town.hot_shop.zone)
    assert "below 40 °C / 104 °F and may be touched with bare hands from" in page.words
    assert f"{touch:%H:%M}; before that with gloves" in page.words


def test_who_reads_fahrenheit_is_shown_fahrenheit_first(town: Town, visit: Visits) -> None:
    a_class(town)
    firing = Firing.objects.get()
    town.student.units = "us"
    town.student.save()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    assert "Rate (°F/h) To (°F) Hold (h:min)" in page.words
    assert "as fast as it goes 950 510 °C" in page.words
    left = [one for one in page.all("text", class_="axis-label") if one.get("text-anchor") == "end"]
    assert left
    assert page.words.index("200 °F") < page.words.index("100 °C")


def test_a_target_is_rounded_so_that_the_slower_rate_lasts(town: Town, visit: Visits) -> None:
    """The strain point of the glass is 473.3 °C, or 883.94 °F: passed falling, and so 473 and 883."""
    a_class(town)
    firing = Firing.objects.get()
    firing.segments[2]["target_c"] = 473.3
    firing.save()
    town.student.units = "us"
    town.student.save()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    assert "883 473 °C" in page.words
    assert "What rounding means" in page.words


def test_a_firing_that_broke_off_is_marked_in_words_and_on_the_curve(town: Town, visit: Visits) -> None:
    a_class(town)
    firing = Firing.objects.get()
    at = firing.last_in_at + dt.timedelta(minutes=10)
    with time_machine.travel(at, tick=False):
        record_actual(actor=town.technician, firing=firing, kind="power-lost", at=at)

    page = visit(town.technician).get(f"/firings/{firing.uid}")

    assert "annealer 1: anneal to be annealed again" in page.words
    assert page.words.count("Its pieces are handed to nobody.") == 1
    assert page.all("path", class_="broke")
    assert "broke off" in page.words


def test_what_was_recorded_is_lettered_on_the_curve_and_what_was_struck_is_not(
    town: Town, visit: Visits
) -> None:
    a_class(town)
    firing = Firing.objects.get()
    at = firing.cool_at - dt.timedelta(hours=4)
    with time_machine.travel(at, tick=False):
        for read_c in (150.0, 160.0):
            recorded = record_actual(
                actor=town.technician, firing=firing, kind="temperature", at=at, read_c=read_c
            )
        strike_actual(actor=town.technician, actual=recorded.actual)

    page = visit(town.student).get(f"/firings/{firing.uid}")

    assert len(page.all("text", class_="recorded-letter")) == 1
    assert "temperature read 150 °C / 302 °F" in page.words


def test_flags_of_one_moment_stand_below_one_another(town: Town, visit: Visits) -> None:
    """Unloaded as soon as it is cool: both flags are seen."""
    a_class(town)
    firing = Firing.objects.get()
    firing.unload_at = firing.cool_at
    firing.save()

    page = visit(town.student).get(f"/firings/{firing.uid}")

    flags = [(one["cx"], one["cy"]) for one in page.all("circle", class_="flag")]
    assert len(set(flags)) == len(flags) == 5
    assert flags[3][0] == flags[4][0]


def test_cautions_of_a_kiln_stand_on_its_firing_and_defer(town: Town, visit: Visits) -> None:
    a_class(town)

    page = visit(town.student).get(f"/firings/{Firing.objects.get().uid}")

    assert "Most kiln fires start at night." in page.words
    assert "Only trained people light a torch" not in page.words
    assert "Local codes, the makers’ instructions and licensed practice decide. All cautions" in page.words
