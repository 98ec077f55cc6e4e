from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import units

finite = st.floats(-1e4, 1e4)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(-40, -40), (0, 32), (93, 199.4), (100, 212), (510, 950), (1150, 2102)]
)
def test_temperatures(celsius: float, fahrenheit: float) -> None:
    assert units.f_from_c(celsius) == pytest.approx(fahrenheit)
    assert units.c_from_f(fahrenheit) == pytest.approx(celsius)


def test_a_ramp_has_no_32_degrees_in_it() -> None:
    assert units.f_per_h_from_c_per_h(100) == pytest.approx(180)
    assert units.c_per_h_from_f_per_h(180) == pytest.approx(100)


def test_an_inch_is_25_4_mm() -> None:
    assert units.mm_from_in(0.25) == pytest.approx(6.35)
    assert units.in_from_mm(12.7) == pytest.approx(0.5)


@given(finite)
def test_units_go_round(value: float) -> None:
    assert units.c_from_f(units.f_from_c(value)) == pytest.approx(value, abs=1e-9)
    assert units.c_per_h_from_f_per_h(units.f_per_h_from_c_per_h(value)) == pytest.approx(value)
    assert units.mm_from_in(units.in_from_mm(value)) == pytest.approx(value)
