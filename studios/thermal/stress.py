"""Stress in glass cooled or heated at a steady rate, and the rates that keep it within what is permitted.

A body of path length L (half thickness or radius where it cools all round, thickness where one face does)
whose surface falls at R carries a steady difference between middle, mean and surface. With M = E·α/(1 − ν)
and κ the diffusivity every figure is a fixed fraction of R·L²/κ or M·R·L²/κ:
Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed. 1959;
Adams and Williamson, J. Franklin Inst. 190 (1920) 597.

Known bias: this classical stress is about 60 % of the residual stress of real sheet cooled at a steady rate
(Gardon and Narayanaswamy, J. Am. Ceram. Soc. 53 (1970) 380). How it scales is unaffected.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from studios.thermal.glass import Glass

S_PER_H = 3600.0
S_PER_MIN = 60.0
FIRST_ZERO_OF_J0 = 2.404825557695773  # Abramowitz and Stegun, table 9.5
ROOM_C = 20.0


@dataclass(frozen=True, kw_only=True)
class Form:
    """The fractions of one geometry: `difference` of R·L²/κ, `surface` and `centre` of M·R·L²/κ.

    `decay` times κ/L² is the rate at which the first, slowest mode of an uneven temperature dies away.
    """

    difference: float
    surface: float
    centre: float
    decay: float


SLAB = Form(difference=1 / 2, surface=1 / 3, centre=1 / 6, decay=math.pi**2 / 4)
CYLINDER = Form(difference=1 / 4, surface=1 / 8, centre=1 / 8, decay=FIRST_ZERO_OF_J0**2)
SPHERE = Form(difference=1 / 6, surface=1 / 15, centre=1 / 15, decay=math.pi**2)


def path_per_rate_k_h(glass: Glass, path_m: float) -> float:
    """L²/κ in hours: the kelvin of difference, before the geometry's fraction, for each °C/h."""
    return path_m**2 / glass.diffusivity_m2_per_s / S_PER_H


def centre_lag_k(form: Form, glass: Glass, path_m: float, rate_c_per_h: float) -> float:
    """How far the middle stays behind the surface."""
    return form.difference * rate_c_per_h * path_per_rate_k_h(glass, path_m)


def surface_stress_pa(form: Form, glass: Glass, path_m: float, rate_c_per_h: float) -> float:
    """Tension of the surface while cooling below the strain point (compression while heating)."""
    return form.surface * glass.stress_modulus_pa * rate_c_per_h * path_per_rate_k_h(glass, path_m)


def centre_stress_pa(form: Form, glass: Glass, path_m: float, rate_c_per_h: float) -> float:
    """Tension of the middle: kept for ever when cooled through the annealing range, passing while heating."""
    return form.centre * glass.stress_modulus_pa * rate_c_per_h * path_per_rate_k_h(glass, path_m)


def rate_for_centre_c_per_h(form: Form, glass: Glass, path_m: float, permitted_pa: float) -> float:
    """The fastest rate whose tension in the middle stays within what is permitted (R1; and heating)."""
    return permitted_pa / centre_stress_pa(form, glass, path_m, 1.0)


def rate_for_surface_c_per_h(form: Form, glass: Glass, path_m: float, permitted_pa: float) -> float:
    """The fastest cooling below the strain point whose tension at the surface stays within it (R2)."""
    return permitted_pa / surface_stress_pa(form, glass, path_m, 1.0)


def equalise_min(form: Form, glass: Glass, path_m: float, remaining: float = 0.01) -> float:
    """Minutes until the slowest mode of an uneven temperature has decayed to a remaining part of itself."""
    return math.log(1 / remaining) * path_m**2 / (form.decay * glass.diffusivity_m2_per_s) / S_PER_MIN


def mismatch_stress_pa(first: Glass, second: Glass) -> float:
    """Stress kept by two glasses of unequal expansion fused together, cooled from annealing point to room.

    Half of the difference in free contraction falls on each of two like layers.
    """
    stiffness = (first.youngs_pa / (1 - first.poisson) + second.youngs_pa / (1 - second.poisson)) / 2
    cooled_k = (first.annealing_c + second.annealing_c) / 2 - ROOM_C
    return stiffness * abs(first.expansion_per_k - second.expansion_per_k) * cooled_k / 2
