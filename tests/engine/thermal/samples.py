"""Invented glasses and equipment for the tests; the numbers that matter stand in each test."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from studios.thermal import Body, Glass, Piece, Policy, Recipe, Shape

KAPPA_M2_PER_S = 4.6e-7  # soda-lime, between 4.2e-7 and 5.5e-7 at 500 °C (from memory)
NO_CEILINGS = Policy(heating_ceilings=None, cooling_ceilings=None)


def glass(*, kappa_m2_per_s: float = KAPPA_M2_PER_S, **changes: Any) -> Glass:
    soda_lime: dict[str, Any] = {
        "name": "clear",
        "expansion_per_k": 90e-7,
        "annealing_c": 510.0,
        "strain_c": 475.0,
        "softening_c": 690.0,
        "youngs_pa": 70e9,
        "poisson": 0.22,
        "conductivity_w_per_m_k": kappa_m2_per_s * 2500 * 1000,
        "density_kg_per_m3": 2500.0,
        "heat_capacity_j_per_kg_k": 1000.0,
    }
    return Glass(**soda_lime | changes)


def piece(shape: Shape = Shape.PLATE_ON_SHELF, thickness_mm: float = 6.0, **glass_changes: Any) -> Piece:
    return Piece(glass=glass(**glass_changes), shape=shape, thickness_mm=thickness_mm)


def body(**changes: Any) -> Body:
    kiln: dict[str, Any] = {"tau_h": 2.75, "ceiling_c": 1100.0, "power_kw": 4.0, "ambient_c": 22.0}
    return Body(**kiln | changes)


taus_h = st.floats(0.5, 8.0)
ambients_c = st.floats(10.0, 40.0)
ramps_c_per_h = st.none() | st.floats(20.0, 2000.0)
thicknesses_mm = st.floats(1.0, 60.0)
shapes = st.sampled_from(Shape)
recipes = st.sampled_from(Recipe)


@st.composite
def bodies(draw: st.DrawFn, ambient: st.SearchStrategy[float] = ambients_c) -> Body:
    """Equipment that reaches every recipe; brick ones cool more slowly once they are nearly cold."""
    tau_h = draw(taus_h)
    low = draw(st.none() | st.floats(1.0, 3.0))
    return Body(
        tau_h=tau_h,
        tau_low_h=None if low is None else tau_h * low,
        split_c=draw(st.floats(100.0, 600.0)),
        ceiling_c=draw(st.floats(850.0, 1350.0)),
        power_kw=draw(st.floats(1.0, 40.0)),
        ramp_limit_c_per_h=draw(ramps_c_per_h),
        ambient_c=draw(ambient),
        door_c=60.0,
    )


@st.composite
def pieces(draw: st.DrawFn) -> Piece:
    """Any shape; a vessel may stand on a foot thicker or thinner than its wall."""
    shape = draw(shapes)
    drawn = piece(shape, draw(thicknesses_mm), expansion_per_k=draw(st.floats(30e-7, 110e-7)), name="drawn")
    return replace(drawn, foot_mm=draw(st.none() | thicknesses_mm)) if shape is Shape.VESSEL else drawn
