"""A firing goes by the record, the season, the controller and the rules that hold on its day."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.records import Placement
from scheduling.engine.search import place
from scheduling.engine.startspace.space import first_start
from scheduling.errors import NoStart
from scheduling.models import Firing
from scheduling.snapshot import ask_of, horizon_around, load_world
from studios.models import Equipment, GlassType, OwnProcess, Season, ThermalRecord
from studios.thermal import FAMILIES, Family
from tests.services.test_booking import book, firing_of
from tests.worlds import ANNEALER, Town, local

pytestmark = pytest.mark.django_db


def hours(firing: Firing) -> float:
    """From the last piece in to cool enough to open."""
    return (firing.cool_at - firing.last_in_at) / dt.timedelta(hours=1)


def slower_from(town: Town, day: int, annealer: str = "annealer 1") -> None:
    """A record accepted from a log: the annealer keeps its heat longer than had been thought."""
    ThermalRecord.objects.create(
        equipment=town.equipment[annealer],
        valid_from=local(day, 0).date(),
        source="fitted from a log",
        **{**ANNEALER, "tau_h": 5.0},
    )


def test_a_new_record_counts_from_its_day_on(town: Town) -> None:
    slower_from(town, 8)

    before, after = (
        firing_of(book(town, "blowing", local(4, 18))),
        firing_of(book(town, "blowing", local(8, 18))),
    )

    assert before.equipment == after.equipment
    assert hours(after) == pytest.approx(hours(before) * 5 / 4, rel=0.08)


def test_a_search_over_the_day_of_a_new_record_agrees_with_booking_on_either_side(town: Town) -> None:
    slower_from(town, 4)
    course, studio = town.courses["blowing"], town.hot_shop
    world = load_world([studio], horizon_around(local(0, 12), local(6, 12)), [town.instructor])
    ask = ask_of(course, studio, town.instructor)

    for day in (1, 4):
        found = place(world, ask, floor_minutes(local(day, 18)))
        assert isinstance(found, Placement)
        booked = firing_of(book(town, "blowing", local(day, 18)))
        assert found.firings[0].cool == ceil_minutes(booked.cool_at)


def test_the_first_start_may_lie_beyond_the_day_of_a_new_record(town: Town) -> None:
    """An annealer that no controller's program fits today can take pieces once its record is put right."""
    for name in ("annealer 1", "annealer 2"):
        equipment = town.equipment[name]
        equipment.thermal_records.update(ceiling_c=400.0)
        ThermalRecord.objects.create(
            equipment=equipment, valid_from=local(2, 0).date(), source="elements renewed", **ANNEALER
        )
    world = load_world([town.hot_shop], horizon_around(local(0, 12), local(5, 12)), [town.instructor])

    found = first_start(
        world,
        ask_of(town.courses["blowing"], town.hot_shop, town.instructor),
        floor_minutes(local(0, 12)),
        ceil_minutes(local(5, 12)),
    )

    assert found is not None
    assert local(2, 0) <= dt.datetime.fromtimestamp(found * 60, dt.UTC) < local(3, 0)
    with pytest.raises(NoStart, match="settles at 400"):
        book(town, "blowing", local(1, 18))


def test_a_hot_summer_makes_the_nights_longer_and_a_winter_shorter(town: Town) -> None:
    """The door waits for 50 °C: a room of 34 °C takes longer than one of 30 °C, one of 22 °C less."""
    Season.objects.create(studio=town.hot_shop, name="summer", month=3, day=5, warmer_k=4)
    Season.objects.create(studio=town.hot_shop, name="winter", month=11, day=1, warmer_k=-8)

    winter, summer = (firing_of(book(town, "blowing", local(day, 18))) for day in (1, 2))

    assert summer.equipment == winter.equipment
    assert hours(summer) > hours(winter) + 1


def test_full_power_holds_it_so_much_above_the_room_in_every_season(town: Town) -> None:
    """The losses go by the difference: where the room is 4 K warmer, it settles 4 K higher."""
    annealer = town.equipment["annealer 1"]
    usual = annealer.body_on(local(2, 0).date())
    Season.objects.create(studio=town.hot_shop, name="summer", month=3, day=5, warmer_k=4)
    Season.objects.create(studio=town.hot_shop, name="winter", month=11, day=1, warmer_k=-8)
    again = Equipment.objects.get(pk=annealer.pk)

    winter, summer = (again.body_on(local(day, 0).date()) for day in (1, 2))

    assert usual is not None
    assert winter is not None
    assert summer is not None
    assert (winter.ceiling_c, summer.ceiling_c) == (usual.ceiling_c - 8, usual.ceiling_c + 4)
    rises = {body.ceiling_c - body.ambient_c for body in (usual, winter, summer)}
    assert rises == {usual.ceiling_c - usual.ambient_c}


def test_a_season_begins_on_a_day_that_every_year_has(town: Town) -> None:
    season = Season(studio=town.hot_shop, name="leap", month=2, day=29, warmer_k=1)

    with pytest.raises(ValidationError, match="every year"):
        season.full_clean()


def test_a_thick_foot_makes_the_night_longer_than_its_wall(town: Town) -> None:
    thin = firing_of(book(town, "blowing", local(1, 18)))
    course = town.courses["blowing"]
    course.foot_mm = 25.0
    course.full_clean()
    course.save()

    footed = firing_of(book(town, "blowing", local(4, 18)))

    assert hours(footed) > hours(thin) + 2
    assert footed.loads.get().foot_mm == 25.0
    assert footed.stress[0]["thickness_mm"] == 25.0


def test_a_tile_has_no_foot(town: Town) -> None:
    course = town.courses["tiles"]
    course.foot_mm = 20.0

    with pytest.raises(ValidationError, match="Only a vessel has a foot"):
        course.full_clean()


def test_a_controller_with_few_segments_gets_a_program_that_it_can_take(town: Town) -> None:
    town.equipment["kiln"].controller_segments = 4
    town.equipment["kiln"].save()

    firing = firing_of(book(town, "tiles", local(1, 10)))

    assert sum(segment["keyed"] for segment in firing.segments) <= 4
    assert all(line["classical_mpa"] <= line["permitted_mpa"] * 1.000001 for line in firing.stress)


def test_a_controller_with_too_few_segments_is_said_so(town: Town) -> None:
    town.equipment["kiln"].controller_segments = 2
    town.equipment["kiln"].save()

    with pytest.raises(NoStart, match="at least 4 segments"):
        book(town, "tiles", local(1, 10))


def test_a_studio_fires_at_its_own_temperatures(town: Town) -> None:
    own = OwnProcess(studio=town.flame, recipe="full-fuse", process_c=810, hold_min=20)
    own.full_clean()
    own.save()

    firing = firing_of(book(town, "tiles", local(1, 10)))

    assert max(segment["target_c"] for segment in firing.segments) == 810
    with pytest.raises(ValidationError, match="bubble squeeze"):
        OwnProcess(studio=town.flame, recipe="slump", process_c=650, hold_min=5, squeeze_c=700).full_clean()


def test_without_ceilings_the_glass_alone_decides(town: Town) -> None:
    held = firing_of(book(town, "tiles", local(1, 10)))
    for name in ("heating_6_mm", "heating_12_mm", "cooling_6_mm", "cooling_12_mm"):
        setattr(town.flame, f"{name}_c_per_h", None)
    town.flame.full_clean()
    town.flame.save()

    free = firing_of(book(town, "tiles", local(3, 10)))

    assert hours(free) < hours(held)
    assert {segment["governed_by"] for segment in held.segments} >= {"studio ceiling"}


def test_a_firing_keeps_what_was_asked_and_where_its_kiln_cannot_follow(town: Town) -> None:
    firing = firing_of(book(town, "tiles", local(1, 10)))

    assert firing.below_strain_at is not None
    assert firing.last_in_at < firing.below_strain_at < firing.cool_at
    assert firing.lags[-1]["target_c"] == pytest.approx(50)
    asked_h = firing.asked[-1][0] / 60
    assert asked_h < hours(firing)
    assert hours(firing) - asked_h == pytest.approx(
        sum(lag["late_min"] for lag in firing.lags) / 60, abs=1 / 30
    )


@pytest.mark.parametrize("family", FAMILIES.values(), ids=list(FAMILIES))
def test_a_family_of_glass_goes_into_the_book_and_comes_back_the_same(family: Family) -> None:
    row = GlassType.of_family(family)
    row.full_clean()
    row.save()

    assert GlassType.objects.get(slug=family.slug).as_thermal() == family.glass
