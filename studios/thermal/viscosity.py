"""Viscosity against temperature by Vogel, Fulcher and Tammann, through three isokoms."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite

from studios.thermal.errors import IsokomsOutOfOrder, require_range

# ISO 7884-1:1987: the fixed points of a glass by its viscosity, log10 in dPa·s.
WORKING, SOFTENING, ANNEALING, STRAIN = 4.0, 7.6, 13.0, 14.5

Isokom = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Viscosity:
    """log10 η = a + b/(T − t0), η in dPa·s, T in °C.

    Good between its isokoms and a little beyond. A strain point is never computed from it: near the
    annealing range measured points lie 10 to 25 K below the fit (SRM 710: 546 and 504 °C measured, 556 and
    529 °C by fit; from memory), so each glass stores its own.
    """

    a: float
    b: float
    t0_c: float

    @classmethod
    def through(cls, first: Isokom, second: Isokom, third: Isokom) -> Viscosity:
        """The one curve through three isokoms (log10 dPa·s, °C), in closed form. Raises IsokomsOutOfOrder."""
        points = sorted((first, second, third))
        for (thinner, hotter), (thicker, cooler) in pairwise(points):
            if not (thinner < thicker and isfinite(thicker - thinner) and 0 < hotter - cooler < inf):
                raise IsokomsOutOfOrder(field="isokoms", points=_said(points))
        (l1, t1), (l2, t2), (l3, t3) = points
        ratio = (l1 - l2) * (t3 - t2) / ((l2 - l3) * (t2 - t1))
        if ratio >= 1:
            raise IsokomsOutOfOrder(field="isokoms", points=_said(points))
        t0_c = (ratio * t1 - t3) / (ratio - 1)
        b = (l1 - l2) * (t1 - t0_c) * (t2 - t0_c) / (t2 - t1)
        return cls(a=l1 - b / (t1 - t0_c), b=b, t0_c=t0_c)

    def log10_dpa_s(self, temperature_c: float) -> float:
        """The viscosity at a temperature above t0. Raises OutOfRange."""
        require_range("temperature_c", temperature_c, self.t0_c + 1, 3000.0)
        return self.a + self.b / (temperature_c - self.t0_c)

    def temperature_c(self, log10_dpa_s: float) -> float:
        """The temperature of an isokom. Raises OutOfRange."""
        require_range("log10_dpa_s", log10_dpa_s, self.a + 0.1, 15.0)
        return self.t0_c + self.b / (log10_dpa_s - self.a)


def _said(points: list[Isokom]) -> str:
    return ", ".join(f"10^{log:g} dPa·s at {at_c:g} °C" for log, at_c in points)
