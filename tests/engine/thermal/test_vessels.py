"""A vessel of a wall and a foot: the thicker of the two decides."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from studios.thermal import Body, FiringPlan, Piece, Recipe, Shape, plan_firing
from studios.thermal.errors import AbsurdThickness, OnlyVesselsHaveAFoot
from studios.thermal.limits import annealing_limit
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, glass, piece, thicknesses_mm

BOWL = piece(Shape.VESSEL, 6.0)


def annealed(load: Piece, annealer: Body) -> FiringPlan:
    return plan_firing(recipe=Recipe.ANNEAL, pieces=[load], body=annealer)


def test_a_thick_foot_governs() -> None:
    """A 6 mm wall on an 18 mm foot is annealed like 18 mm: a ninth of the rate, three hours of soak."""
    footed = replace(BOWL, foot_mm=18.0)

    plain_rate = annealing_limit(BOWL, NO_CEILINGS).rate_c_per_h
    assert annealing_limit(footed, NO_CEILINGS).rate_c_per_h == pytest.approx(plain_rate / 9)
    plan = annealed(footed, body())
    assert (plan.segments[1].hold_min, annealed(BOWL, body()).segments[1].hold_min) == (180, 60)
    assert plan.tail_min == annealed(piece(Shape.VESSEL, 18.0), body()).tail_min


@given(thicknesses_mm, thicknesses_mm, bodies())
def test_wall_and_foot_count_alike(wall_mm: float, foot_mm: float, annealer: Body) -> None:
    footed = replace(BOWL, thickness_mm=wall_mm, foot_mm=foot_mm)

    as_thick = piece(Shape.VESSEL, max(wall_mm, foot_mm))
    assert annealed(footed, annealer).tail == annealed(as_thick, annealer).tail


def test_a_thin_foot_changes_nothing() -> None:
    assert annealed(replace(BOWL, foot_mm=4.0), body()).tail == annealed(BOWL, body()).tail


def test_a_goblet_with_a_thick_foot_governs_a_load_of_thicker_walls() -> None:
    goblet, bowl = replace(BOWL, thickness_mm=2.0, foot_mm=15.0), piece(Shape.VESSEL, 10.0)

    assert plan_firing(recipe=Recipe.ANNEAL, pieces=[bowl, goblet], body=body()).governing == goblet


@pytest.mark.parametrize("shape", [each for each in Shape if each is not Shape.VESSEL])
def test_nothing_but_a_vessel_has_a_foot(shape: Shape) -> None:
    with pytest.raises(OnlyVesselsHaveAFoot, match=shape.value.replace("-", " ")) as refused:
        Piece(glass=glass(), shape=shape, thickness_mm=6, foot_mm=8)

    assert refused.value.field == "foot_mm"


@pytest.mark.parametrize("foot_mm", [0.0, -3.0, 900.0, float("nan")])
def test_a_foot_has_a_plausible_thickness(foot_mm: float) -> None:
    with pytest.raises(AbsurdThickness) as refused:
        replace(BOWL, foot_mm=foot_mm)

    assert refused.value.field == "foot_mm"
