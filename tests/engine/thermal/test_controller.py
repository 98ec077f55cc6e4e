"""A controller with few segments: the shortest of all ways to merge stages, never faster than permitted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import inf

import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from studios.thermal import Body, FiringPlan, Phase, Piece, Recipe, Segment, plan_firing
from studios.thermal.errors import TooFewSegments
from tests.engine.thermal import numerics
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, piece, pieces, recipes

MANY = settings(max_examples=150, deadline=None)


def planned(
    load: Piece, kiln: Body, recipe: Recipe, most: int | None = None, working_min: float = 0.0
) -> FiringPlan:
    return plan_firing(
        recipe=recipe,
        pieces=[load],
        body=kiln,
        policy=NO_CEILINGS,
        most_segments=most,
        working_min=working_min,
    )


def fitted_or_none(load: Piece, kiln: Body, recipe: Recipe, most: int) -> FiringPlan | None:
    try:
        return planned(load, kiln, recipe, most)
    except TooFewSegments:
        return None


def every_merging(stages: Sequence[Segment], at_c: float) -> Iterator[list[Segment]]:
    """All ways to run neighbours that go the same way, without a hold between them, at their slowest rate."""
    if not stages:
        yield []
        return
    for length in range(1, len(stages) + 1):
        head = stages[:length]
        targets = [at_c, *(each.target_c for each in head)]
        ways = {later > earlier for earlier, later in pairwise(targets)}
        if length > 1 and (
            any(each.hold_min for each in head[:-1]) or len(ways) > 1 or len(set(targets)) < len(targets)
        ):
            break
        slowest = min(head, key=lambda each: inf if each.rate_c_per_h is None else each.rate_c_per_h)
        one = replace(
            head[-1],
            phase=head[0].phase,
            rate_c_per_h=slowest.rate_c_per_h,
            governed_by=slowest.governed_by,
        )
        for rest in every_merging(stages[length:], head[-1].target_c):
            yield [one, *rest]


def entered(segments: Sequence[Segment]) -> int:
    """Without those at the end that fall by themselves, the equipment being slower than the limit.

    The fall through the annealing range is always entered.
    """
    count = len(segments)
    while (
        count > 1
        and segments[count - 1].governed_by == "equipment"
        and segments[count - 1].hold_min == 0
        and segments[count - 1].phase is not Phase.ANNEALING
        and segments[count - 1].target_c < segments[count - 2].target_c
    ):
        count -= 1
    return count


@MANY
@given(pieces(), bodies(), recipes, st.integers(2, 8))
def test_no_other_way_to_merge_is_shorter(drawn: Piece, kiln: Body, recipe: Recipe, most: int) -> None:
    """Every way is tried and timed by the integrated heat balance. An annealer's hold is not known to end."""
    many = planned(drawn, kiln, recipe).segments
    ways = list(every_merging(many, kiln.ambient_c))
    fitting = [way for way in ways if entered(way) <= most or len(many) <= most]

    fitted = fitted_or_none(drawn, kiln, recipe, most)

    assert (fitted is None) == (not fitting)
    if fitted is not None:
        best_min = min(numerics.program_min(kiln, kiln.ambient_c, way) for way in fitting)
        assert fitted.curve.duration_min == pytest.approx(best_min, abs=1)


@MANY
@given(pieces(), bodies(), recipes, st.integers(2, 8))
def test_nowhere_faster_than_the_program_of_many_segments(
    drawn: Piece, kiln: Body, recipe: Recipe, most: int
) -> None:
    """Along the way, degree by degree: wherever few segments take less time than many, glass is at risk."""
    fitted = fitted_or_none(drawn, kiln, recipe, most)
    assume(fitted is not None)
    assert fitted is not None
    many = planned(drawn, kiln, recipe)

    assert fitted.curve.duration_min >= many.curve.duration_min - 1e-6
    assert all(line.within for line in fitted.stress)
    for leg, permitted in zip((*fitted.before, *fitted.after), (*many.before, *many.after), strict=True):
        assert leg.segment.target_c == permitted.segment.target_c
        assert leg.got_min >= permitted.got_min - 1e-6
        asked, limit = leg.segment.rate_c_per_h, permitted.segment.rate_c_per_h
        assert (inf if asked is None else asked) <= (inf if limit is None else limit)


@MANY
@given(pieces(), bodies(), recipes, st.integers(2, 8), st.floats(0, 300))
def test_no_hold_is_ever_lost(
    drawn: Piece, kiln: Body, recipe: Recipe, most: int, working_min: float
) -> None:
    hold_min = working_min if recipe is Recipe.ANNEAL else 0.0
    try:
        fitted = planned(drawn, kiln, recipe, most, hold_min)
    except TooFewSegments:
        reject()
    many = planned(drawn, kiln, recipe, None, hold_min)

    def held(plan: FiringPlan) -> dict[float, float]:
        found: dict[float, float] = {}
        for each in plan.segments:
            if each.hold_min:
                assert each.keyed
                found[each.target_c] = found.get(each.target_c, 0.0) + each.hold_min
        return found

    assert held(fitted) == pytest.approx(held(many))


@MANY
@given(pieces(), bodies(), recipes, st.integers(2, 8))
def test_as_many_as_the_controller_takes_and_more_is_never_longer(
    drawn: Piece, kiln: Body, recipe: Recipe, most: int
) -> None:
    fewer, more = (fitted_or_none(drawn, kiln, recipe, count) for count in (most, most + 1))

    assert fewer is None or sum(each.keyed for each in fewer.segments) <= most
    if fewer is not None:
        assert more is not None
        assert more.curve.duration_min <= fewer.curve.duration_min + 1e-6


def test_too_few_segments_says_how_many_it_takes() -> None:
    """A full fuse: to the squeeze, to the process, to the soak, and down where a quick kiln must be led."""
    quick = body(tau_h=0.5)
    with pytest.raises(TooFewSegments, match="at least 4 segments and the controller takes 3") as refused:
        planned(piece(thickness_mm=12), quick, Recipe.FULL_FUSE, 3)

    assert refused.value.field == "controller_segments"
    assert refused.value.facts["needed"] == 4
    assert len(planned(piece(thickness_mm=12), quick, Recipe.FULL_FUSE, 4).segments) == 4


def test_the_least_number_suffices_and_one_less_does_not() -> None:
    for recipe in Recipe:
        with pytest.raises(TooFewSegments) as refused:
            planned(piece(), body(), recipe, 0)
        needed = int(str(refused.value.facts["needed"]))
        assert sum(each.keyed for each in planned(piece(), body(), recipe, needed).segments) <= needed
        with pytest.raises(TooFewSegments):
            planned(piece(), body(), recipe, needed - 1)


def test_a_last_stage_the_kiln_is_too_slow_for_is_not_entered() -> None:
    """12 mm: from 425 °C the limit is 299 °C/h and τ 2.75 h falls at 147 at most."""
    fitted = planned(piece(thickness_mm=12), body(), Recipe.SLUMP, 5)

    assert [(each.target_c, each.keyed) for each in fitted.segments][-2:] == [(425, True), (50, False)]
    assert fitted.curve == planned(piece(thickness_mm=12), body(), Recipe.SLUMP).curve


def test_a_stage_merged_goes_at_the_slowest_rate_of_all() -> None:
    """A quick kiln and two segments for three stages: 59 °C/h goes on to 425, not 119 from 475."""
    fitted = planned(piece(thickness_mm=12), body(tau_h=0.5), Recipe.BATCH_ANNEAL, 3)

    assert [each.target_c for each in fitted.segments] == [510, 425, 50]
    assert fitted.segments[1].rate_c_per_h == 59
    assert fitted.segments[1].governed_by == "kept stress"


def test_the_working_hours_and_the_soak_are_one_hold() -> None:
    """Both at 510 °C: an annealer whose controller takes three segments holds 180 + 120 minutes."""
    fitted = planned(piece(thickness_mm=12), body(), Recipe.ANNEAL, 3, working_min=180)

    first = fitted.segments[0]
    assert (first.target_c, first.hold_min) == (510, 300)
    assert first.hold_governed_by == "working hours and studio floor"
    assert fitted.curve.phase_spans()[1].phase is Phase.HOLDING
    assert fitted.moments().soak_ends_min == pytest.approx(fitted.heat_up.duration_min + 300)


def test_a_controller_that_takes_many_gets_every_stage() -> None:
    assert planned(piece(), body(), Recipe.FULL_FUSE, 20) == planned(piece(), body(), Recipe.FULL_FUSE)
