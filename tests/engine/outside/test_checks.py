"""Every value that somebody outside the project stated, against the model; each row carries its source."""

from __future__ import annotations

import math
import re

import pytest

from studios.outside import CHECKS, THEMES, About, Between, Check, Seen
from studios.thermal import FAMILIES, Body, Piece, Policy, Recipe, Shape, cool_down_curve, plan_firing
from studios.thermal.errors import AnnealingPointsDiffer, DoorTooHot, MixedExpansion, NeverCools
from studios.thermal.policy import compatible


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.what)
def test_the_model_agrees_with_the_value_published(check: Check) -> None:
    computed = check.computed()

    assert math.isfinite(computed)
    assert check.holds(computed), (
        f"{computed:g} {check.unit}; published {check.published.said(check.unit)}: {check.source}"
    )


def test_every_row_asks_its_own_question_and_says_who_answered_it() -> None:
    assert len({check.what for check in CHECKS}) == len(CHECKS)
    assert all(check.source for check in CHECKS)
    assert sum(len(rows) for rows in THEMES.values()) == len(CHECKS) > 150


def test_practice_has_no_source_and_nothing_else_is_without_one() -> None:
    for check in CHECKS:
        assert (check.source == "no source") == (check.seen is Seen.PRACTICE), check.what


@pytest.mark.parametrize(
    ("published", "inside", "outside", "difference"),
    [
        (About(value=10.0, within=0.5), (9.5, 10.5), (9.4, 10.6), 0.6),
        (About(value=10.0, share=0.25), (7.5, 12.5), (7.4, 12.6), 2.6),
        (Between(low=12.0, high=16.0), (12.0, 16.0), (11.9, 16.1), 0.1),
        (Between(high=93.0), (-40.0, 93.0), (93.1, 200.0), 107.0),
        (Between(low=7.0), (7.0, 9.0), (6.0, -1.0), -8.0),
    ],
    ids=str,
)
def test_a_row_fails_as_soon_as_the_model_leaves_what_is_allowed(
    published: About | Between,
    inside: tuple[float, float],
    outside: tuple[float, float],
    difference: float,
) -> None:
    row = Check(what="w", published=published, seen=Seen.DERIVED, source="s", computed=lambda: 0.0)

    assert all(row.holds(value) for value in inside)
    assert not any(row.holds(value) for value in outside)
    assert not row.holds(math.nan)
    assert row.difference(outside[1]) == pytest.approx(difference)


def row_named(pattern: str) -> list[Check]:
    return [check for check in CHECKS if re.search(pattern, check.what)]


def test_the_handbook_holds_as_a_whole() -> None:
    """Nine R1 with one fitted stress: every one within 25 %, at least seven within 10 %; R2 = 2·R1."""
    first, second = row_named("^handbook R1"), row_named("^handbook R2")
    assert len(first) == len(second) == 9

    errors = [abs(check.difference(check.computed()) / check.published.low) for check in first]

    assert sum(error < 0.10 for error in errors) >= 7
    for once, twice in zip(first, second, strict=True):
        assert twice.computed() == pytest.approx(2 * once.computed())
        assert isinstance(once.published, About)
        assert isinstance(twice.published, About)
        assert twice.published.value == pytest.approx(2 * once.published.value)


def test_the_newton_table_is_whole() -> None:
    rows = row_named(r"^(370|480) to \d+ °C at τ")
    assert len(rows) == 18
    assert all(check.published.high - check.published.low == pytest.approx(0.02) for check in rows)


KILN = Body(tau_h=3, ceiling_c=1100, power_kw=4, ambient_c=22)


@pytest.mark.parametrize("target_c", [22.0, 21.9, -10.0])
def test_a_target_at_or_below_ambient_is_an_error_and_not_an_endless_loop(target_c: float) -> None:
    with pytest.raises(NeverCools, match="Nothing cools to"):
        cool_down_curve(KILN, from_c=370, to_c=target_c)


def test_soft_104_and_borosilicate_cannot_share_a_firing() -> None:
    """Common practice: 504-516 °C against 566 °C."""
    soft, boro = FAMILIES["soft-104"].glass, FAMILIES["borosilicate-33"].glass
    beads = [Piece(glass=glass, shape=Shape.BEAD, thickness_mm=15) for glass in (soft, boro)]

    assert not compatible(soft, boro, Policy())
    with pytest.raises(AnnealingPointsDiffer, match="cannot share a firing"):
        plan_firing(recipe=Recipe.ANNEAL, pieces=beads, body=KILN)


def test_expansions_are_never_mixed_in_one_piece() -> None:
    """Common practice: never. Derived: 90 with 96 gives 13 MPa."""
    glasses = FAMILIES["fusing-90"].glass, FAMILIES["hot-shop"].glass

    with pytest.raises(MixedExpansion, match=r"about 12\.\d MPa|about 13\.\d MPa"):
        Piece(glass=glasses[0], shape=Shape.PLATE_ON_SHELF, thickness_mm=6, fused_with=glasses[1:])


def test_a_door_is_never_opened_above_93_degrees() -> None:
    """Common practice: 93 °C (200 °F)."""
    assert Body(tau_h=3, ceiling_c=1100, power_kw=4, door_c=93).opening_c == 93
    with pytest.raises(DoorTooHot):
        Body(tau_h=3, ceiling_c=1100, power_kw=4, door_c=93.1)


@pytest.mark.parametrize(
    ("published", "unit", "said"),
    [
        (About(value=59.8, within=0.05), "°C/h", "59.8 ± 0.05 °C/h"),
        (About(value=4.0, within=0.0), "", "4"),
        (About(value=12.0, share=0.25), "°C/min", "12 °C/min ± 25 %"),
        (Between(low=12.0, high=16.0), "h", "12 to 16 h"),
        (Between(high=93.0), "°C", "at most 93 °C"),
        (Between(low=7.0), "", "at least 7"),
    ],
)
def test_a_published_value_is_shown_with_its_room(published: About | Between, unit: str, said: str) -> None:
    assert published.said(unit) == said
