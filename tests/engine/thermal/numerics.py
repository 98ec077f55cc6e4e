"""Heat by numerical methods, for checking closed forms against. It shares no formula with the model.

Glass: the equation of conduction on shells, in fully implicit steps. Equipment: the heat balance of a lumped
body, given to an integrator with the controller's feed held between nothing and full power.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.linalg import solve_banded

from studios.thermal import Body, Glass, Segment

Array = NDArray[np.float64]
CELLS = 120
DIMENSIONS = {"plate": 1, "cylinder": 2, "sphere": 3}


@dataclass(frozen=True, kw_only=True)
class Gradient:
    """How far the middle and the mean stay above the surface, K, at the times asked."""

    middle_k: Array
    mean_k: Array


class Shells:
    """A plate, long cylinder or sphere in shells from the middle out, its surface held to a temperature."""

    def __init__(self, kind: str, path_m: float, glass: Glass) -> None:
        power = DIMENSIONS[kind]
        edges = np.linspace(0.0, path_m, CELLS + 1)
        self.volumes: Array = (edges[1:] ** power - edges[:-1] ** power) / power
        width = path_m / CELLS
        reach = np.full(CELLS + 1, width)
        reach[-1] = width / 2
        k, rho_cp = glass.conductivity_w_per_m_k, glass.density_kg_per_m3 * glass.heat_capacity_j_per_kg_k
        passes = k * edges ** (power - 1) / reach
        passes[0] = 0.0
        store = rho_cp * self.volumes
        self.inner: Array = passes[:-1] / store
        self.outer: Array = passes[1:] / store

    def step(self, temps_c: Array, surface_c: float, step_s: float) -> Array:
        """One step, each shell exchanging with its neighbours as they are at its end."""
        bands = np.zeros((3, CELLS))
        bands[0, 1:] = -step_s * self.outer[:-1]
        bands[1] = 1 + step_s * (self.inner + self.outer)
        bands[2, :-1] = -step_s * self.inner[1:]
        known = temps_c.copy()
        known[-1] += step_s * self.outer[-1] * surface_c
        return np.asarray(solve_banded((1, 1), bands, known))

    def mean_c(self, temps_c: Array) -> float:
        return float(np.average(temps_c, weights=self.volumes))


def driven(
    kind: str, path_m: float, glass: Glass, surface_c: Callable[[float], float], times_s: Array
) -> Gradient:
    """What a surface temperature makes of a piece that begins even."""
    shells = Shells(kind, path_m, glass)
    temps = np.full(CELLS, surface_c(float(times_s[0])))
    middle, mean = [0.0], [0.0]
    for start_s, end_s in pairwise(times_s.tolist()):
        surface = surface_c(end_s)
        temps = shells.step(temps, surface, end_s - start_s)
        middle.append(float(temps[0] + (temps[0] - temps[1]) / 8) - surface)
        mean.append(shells.mean_c(temps) - surface)
    return Gradient(middle_k=np.array(middle), mean_k=np.array(mean))


def steady(kind: str, path_m: float, glass: Glass, rate_c_per_h: float) -> tuple[float, float]:
    """(middle, mean) above a surface falling at a rate, after four times as long as heat needs to cross."""
    cross_s = path_m**2 * glass.density_kg_per_m3 * glass.heat_capacity_j_per_kg_k
    times = np.linspace(0.0, 4 * cross_s / glass.conductivity_w_per_m_k, 81)
    found = driven(kind, path_m, glass, lambda second: -rate_c_per_h * second / 3600, times)
    return float(found.middle_k[-1]), float(found.mean_k[-1])


def middle_and_surface_mpa(kind: str, glass: Glass, middle_k: float, mean_k: float) -> tuple[float, float]:
    """Stress of free glass by its temperatures: what the middle keeps as it sets, and the surface passes.

    Timoshenko and Goodier, Theory of Elasticity: plate and long cylinder E·α/(1 − ν)·(mean − T); in a ball
    the middle is pulled alike from all sides, two thirds of that.
    """
    clamped = glass.youngs_pa * glass.expansion_per_k / (1 - glass.poisson) / 1e6
    share = 2 / 3 if kind == "sphere" else 1.0
    return clamped * share * (middle_k - mean_k), clamped * mean_k


def rate_c_per_h(body: Body, at_c: float, asked_c_per_h: float) -> float:
    """What a body does when its controller asks for a rate (negative: falling)."""
    low = asked_c_per_h < 0 and body.tau_low_h is not None and at_c < body.split_c
    loss = (at_c - body.ambient_c) / (body.tau_low_h if low and body.tau_low_h is not None else body.tau_h)
    full = (body.ceiling_c - body.ambient_c) / body.tau_h
    return float(np.clip(asked_c_per_h + loss, 0.0, full)) - loss


def way_min(body: Body, from_c: float, to_c: float, asked_c_per_h: float | None) -> float:
    """Minutes until the event that the target is passed, integrated on either side of the split."""
    if from_c == to_c:
        return 0.0
    if to_c < body.split_c < from_c:
        return way_min(body, from_c, body.split_c, asked_c_per_h) + way_min(
            body, body.split_c, to_c, asked_c_per_h
        )
    fastest = min(asked_c_per_h or 1e9, (body.ramp_limit_c_per_h or 1e9) if to_c > from_c else 1e9)
    asked = fastest if to_c > from_c else -fastest

    def there(_: float, state: Array) -> float:
        return float(state[0]) - to_c

    there.terminal = True  # type: ignore[attr-defined]  # how solve_ivp is told to stop
    run = solve_ivp(
        lambda _, state: [rate_c_per_h(body, float(state[0]), asked)],
        (0.0, 1e5), [from_c], events=there, rtol=1e-7, atol=1e-5, first_step=1e-3,
    )  # fmt: skip
    assert run.t_events is not None
    return float(run.t_events[0][0]) * 60


def program_min(body: Body, start_c: float, segments: Sequence[Segment]) -> float:
    """A whole program as it is keyed in: a stage that is not keyed is the body cooling with its heat off."""
    minutes, at_c = 0.0, start_c
    for segment in segments:
        minutes += way_min(body, at_c, segment.target_c, segment.rate_c_per_h if segment.keyed else None)
        minutes, at_c = minutes + segment.hold_min, segment.target_c
    return minutes
