"""One curve through three isokoms, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Viscosity
from studios.thermal.errors import IsokomsOutOfOrder, OutOfRange, WorkingPointTooLow
from tests.engine.thermal.samples import glass

# Temperature (°C) at 10^2.5, 10^7.6 and 10^13 dPa·s: NIST SRM certificates as tabulated by Fluegel, Glass
# Technol. A 48 (2007) 13-30, table 12 (seen second-hand).
SRM = {
    "SRM 710": (1293, 725, 556),
    "SRM 710a": (1319, 731, 545),
    "SRM 717a": (1388, 719, 514),
    "SRM 711": (1185, 614, 443),
    "DGG I": (1301, 721, 539),
}


@pytest.mark.parametrize(("log10_dpa_s", "temperature_c"), [(2.5, 1293), (7.6, 725), (13, 556)])
def test_the_quoted_coefficients_of_srm_710(log10_dpa_s: float, temperature_c: float) -> None:
    """−1.626, 4239, 265.7: from memory; they agree with the certificate to 1 °C."""
    quoted = Viscosity(a=-1.626, b=4239.0, t0_c=265.7)

    assert quoted.temperature_c(log10_dpa_s) == pytest.approx(temperature_c, abs=1)
    # At the annealing point one kelvin is 0.05 of a power of ten.
    assert quoted.log10_dpa_s(temperature_c) == pytest.approx(log10_dpa_s, abs=0.05)


@pytest.mark.parametrize("name", SRM)
def test_a_curve_goes_through_its_three_points(name: str) -> None:
    points = list(zip((2.5, 7.6, 13.0), SRM[name], strict=True))

    curve = Viscosity.through(points[2], points[0], points[1])

    for log10_dpa_s, temperature_c in points:
        assert curve.temperature_c(log10_dpa_s) == pytest.approx(temperature_c, abs=1e-9)
        assert curve.log10_dpa_s(temperature_c) == pytest.approx(log10_dpa_s, abs=1e-9)


def test_a_point_the_fit_has_not_seen() -> None:
    """SRM 710 by the quoted curve at 10^4 dPa·s is 1019 °C; three of its certified points foretell it."""
    unseen_c = 265.7 + 4239 / (4 + 1.626)

    curve = Viscosity.through(*zip((2.5, 7.6, 13.0), SRM["SRM 710"], strict=True))

    assert curve.temperature_c(4) == pytest.approx(unseen_c, abs=2)


def test_a_strain_point_from_a_fit_would_be_wrong() -> None:
    """SRM 710: 504 °C measured, 529 by the fit (from memory). So every glass stores its own."""
    curve = Viscosity.through(*zip((2.5, 7.6, 13.0), SRM["SRM 710"], strict=True))

    assert curve.temperature_c(14.5) == pytest.approx(529, abs=2)


@given(st.floats(-4, 0), st.floats(1500, 8000), st.floats(50, 900), st.tuples(*[st.floats(2, 15)] * 3))
def test_any_curve_is_found_again_from_three_of_its_points(
    a: float, b: float, t0_c: float, logs: tuple[float, float, float]
) -> None:
    first, second, third = sorted(logs)
    if min(second - first, third - second) < 0.5:
        second, third = first + 1, first + 3
    points = [(log, t0_c + b / (log - a)) for log in (first, second, third)]

    found = Viscosity.through(points[0], points[1], points[2])

    assert found.a == pytest.approx(a, abs=1e-5)
    assert found.b == pytest.approx(b, rel=1e-5)
    assert found.t0_c == pytest.approx(t0_c, abs=1e-3)


@pytest.mark.parametrize(
    "points",
    [
        ((4, 1000), (7.6, 1000), (13, 550)),
        ((4, 1000), (7.6, 1100), (13, 550)),
        ((4, 1000), (4, 700), (13, 550)),
        ((4, 1000), (7.6, 700), (13, math.nan)),
        ((4, math.inf), (7.6, 700), (13, 550)),
        ((4, 900), (8, 700), (12, 500)),  # a straight line has no t0
        ((4, 900), (8, 750), (12, 500)),  # and this one bends the wrong way
    ],
    ids=["level", "rising", "one viscosity twice", "no number", "endless", "straight", "bent the wrong way"],
)
def test_points_that_no_glass_has(points: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(IsokomsOutOfOrder) as refused:
        Viscosity.through(points[0], points[1], points[2])

    assert refused.value.field == "isokoms"
    assert "10^4 dPa·s" in str(refused.value)


@pytest.mark.parametrize(
    ("ask", "field"),
    [
        (lambda curve: curve.log10_dpa_s(265), "temperature_c"),
        (lambda curve: curve.log10_dpa_s(9000), "temperature_c"),
        (lambda curve: curve.temperature_c(-2), "log10_dpa_s"),
        (lambda curve: curve.temperature_c(40), "log10_dpa_s"),
    ],
)
def test_outside_of_what_a_curve_can_say(ask: Callable[[Viscosity], float], field: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        ask(Viscosity(a=-1.626, b=4239.0, t0_c=265.7))

    assert refused.value.field == field


def test_a_glass_has_a_viscosity_where_its_working_point_is_known() -> None:
    known = glass(working_c=1010.0)

    assert glass().viscosity is None
    assert known.viscosity is not None
    assert known.viscosity.temperature_c(4) == pytest.approx(1010)
    assert known.viscosity.temperature_c(7.6) == pytest.approx(known.softening_c)
    assert known.viscosity.temperature_c(13) == pytest.approx(known.annealing_c)


@pytest.mark.parametrize("working_c", [690.0, 600.0])
def test_a_working_point_lies_above_the_softening_point(working_c: float) -> None:
    with pytest.raises(WorkingPointTooLow, match="working point") as refused:
        glass(working_c=working_c)

    assert refused.value.field == "working_c"


def test_a_working_point_through_which_no_curve_goes() -> None:
    """From 690 °C at 10^7.6 down to 510 at 10^13 is 33 K for each power of ten; 700 at 10^4 is 3."""
    with pytest.raises(IsokomsOutOfOrder):
        glass(working_c=700.0)
