"""Steady gradients and the stress they make: slab, long cylinder and sphere."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

from studios.outside.check import About, Check, Seen
from studios.outside.samples import NO_CEILINGS, slab, soda_lime
from studios.thermal import FAMILIES, Shape, stress
from studios.thermal.limits import annealing_limit, passing_limit
from studios.thermal.stress import CYLINDER, SLAB, SPHERE, Form

BOOKS = (
    "Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959; "
    "Adams & Williamson, J. Franklin Inst. 190 (1920) 597"
)
REFERENCE = soda_lime(kappa_m2_per_s=4.825e-7)
PATH_M = 6.35e-3
RATE_C_PER_H = 180.0
FORMS = {"slab": SLAB, "long cylinder": CYLINDER, "sphere": SPHERE}
FRACTIONS = {
    "slab": (1 / 2, 1 / 3, 1 / 6),
    "long cylinder": (1 / 4, 1 / 8, 1 / 8),
    "sphere": (1 / 6, 1 / 15, 1 / 15),
}
STRESSES_MPA = (
    ("slab", "surface", 1.1250),
    ("slab", "centre", 0.5625),
    ("long cylinder", "surface", 0.4219),
    ("long cylinder", "centre", 0.4219),
    ("sphere", "surface", 0.2250),
    ("sphere", "centre", 0.2250),
)
START_UP = {0.5: 0.3745, 1.0: 0.6203, 2.0: 0.8603, 3.0: 0.9486, 5.0: 0.9930}


def _stress_mpa(form: Form, where: str) -> float:
    made = stress.surface_stress_pa if where == "surface" else stress.centre_stress_pa
    return made(form, REFERENCE, PATH_M, RATE_C_PER_H) / 1e6


def fractions(form: Form) -> tuple[float, float, float]:
    """Centre − surface as a part of R·L²/κ, surface and centre stress as parts of M·R·L²/κ."""
    steady_k = RATE_C_PER_H / 3600 * PATH_M**2 / REFERENCE.diffusivity_m2_per_s
    modulus_mpa = REFERENCE.stress_modulus_pa / 1e6
    return (
        stress.centre_lag_k(form, REFERENCE, PATH_M, RATE_C_PER_H) / steady_k,
        _stress_mpa(form, "surface") / (modulus_mpa * steady_k),
        _stress_mpa(form, "centre") / (modulus_mpa * steady_k),
    )


def _fraction(form: Form, at: int) -> float:
    return fractions(form)[at]


def fraction_rows() -> Iterator[Check]:
    names = ("centre − surface, of R·L²/κ", "surface stress, of M·R·L²/κ", "centre stress, of M·R·L²/κ")
    for body, published in FRACTIONS.items():
        for at, name in enumerate(names):
            yield Check(
                what=f"{body}: {name}",
                published=About(value=published[at], within=1e-9),
                seen=Seen.FOUND,
                source=BOOKS,
                computed=partial(_fraction, FORMS[body], at),
            )


def stress_rows() -> Iterator[Check]:
    for body, where, published in STRESSES_MPA:
        yield Check(
            what=f"{body}, E 70 GPa, ν 0.22, α 9e-6, κ 4.825e-7, 3 °C/min, L 6.35 mm: {where} stress",
            unit="MPa",
            published=About(value=published, within=0.0001),
            seen=Seen.DERIVED,
            source=BOOKS,
            computed=partial(_stress_mpa, FORMS[body], where),
        )


def _r1(thickness_mm: float, shape: Shape) -> float:
    return annealing_limit(slab(thickness_mm, shape), NO_CEILINGS).rate_c_per_h


def rate_rows() -> Iterator[Check]:
    """A 12 mm soda-lime slab on a shelf, 0.7 MPa kept, 7 MPa passing, studio ceilings off."""
    what = "12 mm on a shelf, E 70 GPa, ν 0.22, α 9e-6, κ 4.6e-7, 0.7 and 7 MPa, ceilings off"
    yield Check(
        what=f"{what}: R1",
        unit="°C/h",
        published=About(value=59.8, within=0.05),
        computed=partial(_r1, 12.0, Shape.PLATE_ON_SHELF),
        seen=Seen.DERIVED,
        source=BOOKS,
    )
    yield Check(
        what=f"{what}: R2",
        unit="°C/h",
        published=About(value=299.0, within=0.5),
        computed=lambda: passing_limit(slab(12.0), NO_CEILINGS).rate_c_per_h,
        seen=Seen.DERIVED,
        source=BOOKS,
    )
    yield Check(
        what="both faces free over one face on a shelf, same thickness: ratio of R1",
        published=About(value=4.0, within=1e-9),
        computed=lambda: _r1(12.0, Shape.PLATE_FREE) / _r1(12.0, Shape.PLATE_ON_SHELF),
        seen=Seen.DERIVED,
        source=BOOKS,
    )
    yield Check(
        what="both faces free, 12 mm, over one face on a shelf, 6 mm: ratio of R1",
        published=About(value=1.0, within=1e-9),
        computed=lambda: _r1(12.0, Shape.PLATE_FREE) / _r1(6.0, Shape.PLATE_ON_SHELF),
        seen=Seen.DERIVED,
        source=BOOKS,
    )


def started(ratio: float) -> float:
    """The gradient of a slab after so many of the model's own first-mode times, as a part of the steady one.

    The whole series of Carslaw and Jaeger; the time comes from how long the model says evening out takes.
    """
    seconds = 60 * stress.equalise_min(SLAB, REFERENCE, PATH_M, remaining=math.exp(-ratio))
    fourier = REFERENCE.diffusivity_m2_per_s * seconds / PATH_M**2
    modes = (_mode(n) * math.exp(-((n + 0.5) ** 2) * math.pi**2 * fourier) for n in range(50))
    return 1 - 32 / math.pi**3 * sum(modes)


def _mode(n: int) -> float:
    return (-1.0 if n % 2 else 1.0) / (2 * n + 1) ** 3


def start_up_rows() -> Iterator[Check]:
    for ratio, published in START_UP.items():
        yield Check(
            what=f"start-up of the gradient at t/τ = {ratio:g}, τ = 4L²/(π²κ)",
            published=About(value=published, within=0.0001),
            seen=Seen.DERIVED,
            source="Carslaw & Jaeger; finite differences agree to 4e-5",
            computed=partial(started, ratio),
        )


def mixing_mpa() -> float:
    return stress.mismatch_stress_pa(FAMILIES["fusing-90"].glass, FAMILIES["hot-shop"].glass) / 1e6


def mixing_rows() -> Iterator[Check]:
    source = "E·Δα·ΔT/(2(1−ν)) from annealing point to room"
    yield Check(
        what="expansions 90 and 96 fused in one piece: stress",
        unit="MPa",
        published=About(value=13.0, within=0.5),
        seen=Seen.DERIVED,
        source=source,
        computed=mixing_mpa,
    )
    yield Check(
        what="the same for each 1e-7 of difference",
        unit="MPa",
        published=About(value=2.2, within=0.05),
        seen=Seen.DERIVED,
        source=source,
        computed=lambda: mixing_mpa() / 6,
    )


ROWS = (*fraction_rows(), *stress_rows(), *rate_rows(), *start_up_rows(), *mixing_rows())
