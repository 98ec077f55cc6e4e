"""A handbook's schedule: one face cooling, one set of properties, one permitted stress for all nine."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, partial
from statistics import median

from studios.outside.check import About, Between, Check, Seen
from studios.outside.samples import slab, soda_lime
from studios.thermal import Piece, Policy
from studios.thermal.limits import kept_stress_mpa, load_limits, soak

SHAND = "Shand, Glass Engineering Handbook, 2nd ed., McGraw-Hill 1958; the text was not found"
KAPPA_M2_PER_S = 4.825e-7
# R1 in °C/min by expansion (1e-7 /K) and thickness (mm); R2 is twice R1 in every row.
R1 = {
    (33, 3.175): 12.0, (33, 6.35): 3.0, (33, 12.7): 0.8,
    (50, 3.175): 8.0, (50, 6.35): 2.0, (50, 12.7): 0.5,
    (90, 3.175): 4.0, (90, 6.35): 1.0, (90, 12.7): 0.3,
}  # fmt: skip
R2 = {
    (33, 3.175): 24.0, (33, 6.35): 6.0, (33, 12.7): 1.6,
    (50, 3.175): 16.0, (50, 6.35): 4.0, (50, 12.7): 1.0,
    (90, 3.175): 8.0, (90, 6.35): 2.0, (90, 12.7): 0.6,
}  # fmt: skip
HOLDS_MIN = {3.175: 5.0, 6.35: 15.0, 12.7: 30.0}
NEAR = 0.10


def _piece(expansion: float, thickness_mm: float) -> Piece:
    return slab(thickness_mm, glass=soda_lime(expansion_1e7=expansion, kappa_m2_per_s=KAPPA_M2_PER_S))


@cache
def fitted_mpa() -> float:
    """The one permitted stress: the middle of what the nine rates would keep."""
    return median(kept_stress_mpa(_piece(*row), 60 * rate) for row, rate in R1.items())


@cache
def rates(expansion: float, thickness_mm: float) -> tuple[float, float]:
    """R1 and R2 of the model under the fitted stress, ceilings off, °C/min."""
    policy = Policy(kept_mpa=fitted_mpa(), heating_ceilings=None, cooling_ceilings=None)
    piece = _piece(expansion, thickness_mm)
    limits = load_limits([piece], policy, piece.glass.annealing_c)
    return limits.annealing.rate_c_per_h / 60, limits.second.rate_c_per_h / 60


def _rate(row: tuple[float, float], at: int) -> float:
    return rates(*row)[at]


def errors() -> list[float]:
    return [abs(rates(*row)[0] / published - 1) for row, published in R1.items()]


def rate_rows() -> Iterator[Check]:
    for at, (name, table) in enumerate((("R1", R1), ("R2", R2))):
        for row, published in table.items():
            yield Check(
                what=f"handbook {name}, α {row[0]}e-7, {row[1]:g} mm, one face",
                unit="°C/min",
                published=About(value=published, share=0.25),
                seen=Seen.MEMORY,
                source=SHAND,
                computed=partial(_rate, row, at),
            )


def summary_rows() -> Iterator[Check]:
    yield Check(
        what="handbook, the one stress fitted to all nine R1",
        unit="MPa",
        published=About(value=0.21, within=0.015),
        seen=Seen.DERIVED,
        source=SHAND,
        computed=fitted_mpa,
    )
    yield Check(
        what="handbook, the greatest error of the nine R1",
        unit="%",
        published=Between(high=25.0),
        seen=Seen.DERIVED,
        source=SHAND,
        computed=lambda: 100 * max(errors()),
    )
    yield Check(
        what="handbook, how many of the nine R1 lie within 10 %",
        published=Between(low=7.0),
        seen=Seen.DERIVED,
        source=SHAND,
        computed=lambda: float(sum(error < NEAR for error in errors())),
    )


def hold_rows() -> Iterator[Check]:
    for thickness_mm, published in HOLDS_MIN.items():
        yield Check(
            what=f"soak by the house's rules, not below the handbook's hold, {thickness_mm:g} mm",
            unit="min",
            published=Between(low=published),
            seen=Seen.MEMORY,
            source=SHAND,
            computed=partial(_soak_min, thickness_mm),
        )


def _soak_min(thickness_mm: float) -> float:
    piece = _piece(90, thickness_mm)
    return float(soak(piece, Policy(), piece.glass.annealing_c).minutes)


ROWS = (*rate_rows(), *summary_rows(), *hold_rows())
