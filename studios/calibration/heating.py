"""The heating at full power in a log: it slows down toward the ceiling; a ramp that is held does not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studios.calibration.cooling import LEAST_READINGS, Search
from studios.calibration.errors import FitError, NotFullPower, NotHeating, StraightHeating, TooShort
from studios.calibration.log import Log
from studios.calibration.shape import (
    CHUNK_READINGS,
    MARKED_NOISES,
    TURN_K,
    Array,
    View,
    chunks,
    straight_k_per_h,
    turns,
    view_of,
)
from studios.calibration.stretches import Kind, Stretch, stretch_of, windows
from studios.said import said

FULL_SHARE = 0.985
LEAST_SHARE = 0.3  # of the way to the ceiling
LEAST_RISE_K = 50.0
STRAIGHT_BEND = 0.12  # in time constants: less, and it is a straight line
FOUND_MISFIT = 0.005  # of the rise; a corner between ramps and holds misfits by more
MARKED_MISFIT = 0.03
MISFIT_NOISES = 1.25
HOLD_NOISES = 4.0
LEAST_PART = 0.4  # of a rise: a corner between two ramps bends too, but it is brief
MOST_CUTS = 9
BENDS = np.geomspace(0.02, 30, 120)


@dataclass(frozen=True, kw_only=True)
class Bend:
    """The best curve T∞ − (T∞ − T0)·exp(−t/τ): its length in time constants, T∞, and what is left over."""

    constants: float
    ceiling_c: float
    rms_k: float

    @property
    def share(self) -> float:
        return 1 - float(np.exp(-self.constants))


def find_heatings(log: Log) -> Search:
    """Every stretch whose rise slows down as at full power, the greatest rise first.

    A ramp the controller holds is straight, and a hold after it makes a corner; neither tells the ceiling.
    Where the log tells the heating, it must be full; a plain on and off counts as full while it stays on.
    """
    stretches: list[Stretch] = []
    refusals: list[FitError] = []
    for first, last in windows(log.heating, len(log.minutes), low=FULL_SHARE, high=1.0):
        if last - first < LEAST_READINGS:
            continue
        view = view_of(log, first, last)
        for begin, end in turns(view):
            rise = _without_holds(view, begin, end + 1)
            if _rise_k(view, *rise) >= LEAST_RISE_K and rise[1] - rise[0] >= CHUNK_READINGS:
                _look_into(log, view, rise, stretches, refusals)
    stretches.sort(key=lambda each: log.temps_c[each.first] - log.temps_c[each.last - 1])
    return Search(stretches=tuple(stretches), refusals=tuple(refusals))


def _look_into(
    log: Log, view: View, rise: tuple[int, int], stretches: list[Stretch], refusals: list[FitError]
) -> None:
    part = rise if log.heating is not None else _slowing_part(view, *rise)
    misfit = MARKED_MISFIT if log.heating is not None else FOUND_MISFIT
    try:
        _require_full_power(view, *(part or rise), misfit=misfit)
    except FitError as refusal:
        refusals.append(refusal)
    else:
        begin, end = part or rise
        readings = int(view.edges[begin]), int(view.edges[end])
        stretches.append(stretch_of(log, Kind.FULL_POWER, *readings, found=True))


def check_heating(log: Log, stretch: Stretch) -> Stretch:
    """A heating that a person marked. Raises NotHeating, StraightHeating, NotFullPower or TooShort."""
    view = view_of(log, stretch.first, stretch.last)
    falls = np.maximum.accumulate(view.temps_c) - view.temps_c
    if falls.max() > max(TURN_K, MARKED_NOISES * view.noise_k):
        place = int(np.argmax(falls))
        at_min, fall_k = float(view.minutes[place]), float(falls[place])
        raise NotHeating(**_span(view, 0, len(view)), at_min=at_min, fall_k=fall_k)
    _require_full_power(view, 0, len(view), misfit=MARKED_MISFIT)
    return stretch


def _slowing_part(view: View, begin: int, end: int) -> tuple[int, int] | None:
    """The greatest part of a rise between two cuts that is one curve slowing down.

    One that fits within the noise is preferred to a greater one that fits only roughly.
    """
    edges = [begin, *(last for _, last in chunks(view, begin, end - 1)), end]
    cuts = [edges[i] for i in np.unique(np.linspace(0, len(edges) - 1, MOST_CUTS).astype(int)).tolist()]
    parts = [(a, b) for i, a in enumerate(cuts) for b in cuts[i + 1 :] if b - a >= LEAST_READINGS]
    least_k = LEAST_PART * _rise_k(view, begin, end)
    parts = [part for part in parts if _rise_k(view, *part) >= least_k]
    parts.sort(key=lambda part: -_rise_k(view, *part))
    exact = (part for part in parts if _is_full_power(view, *part, misfit=0.0))
    rough = (part for part in parts if _is_full_power(view, *part, misfit=FOUND_MISFIT))
    return next(exact, None) or next(rough, None)


def _rise_k(view: View, begin: int, end: int) -> float:
    return float(view.temps_c[end - 1] - view.temps_c[begin])


def _without_holds(view: View, begin: int, end: int) -> tuple[int, int]:
    """A rise from where it leaves its lowest to where it comes to its highest."""
    temps_c, margin_k = view.temps_c[begin:end], HOLD_NOISES * view.noise_k + 1.0
    leaves = np.flatnonzero(temps_c <= temps_c[0] + margin_k)[-1]
    arrives = np.flatnonzero(temps_c >= temps_c[-1] - margin_k)[0]
    if arrives <= leaves:
        return begin, end
    return begin + (int(leaves) if leaves > 3 else 0), begin + int(arrives) + 1


def _is_full_power(view: View, begin: int, end: int, *, misfit: float) -> bool:
    try:
        _require_full_power(view, begin, end, misfit=misfit)
    except FitError:
        return False
    return True


def _require_full_power(view: View, begin: int, end: int, *, misfit: float) -> None:
    bend = bend_of(view.minutes[begin:end], view.temps_c[begin:end])
    rise_k = float(view.temps_c[end - 1] - view.temps_c[begin])
    span = _span(view, begin, end)
    if bend.constants < STRAIGHT_BEND:
        raise StraightHeating(**span, rate_c_per_h=straight_k_per_h(view, begin, end))
    if bend.rms_k > max(MISFIT_NOISES * view.noise_k, misfit * rise_k):
        raise NotFullPower(**span, rms_k=bend.rms_k)
    readings = int(view.edges[end] - view.edges[begin])
    if bend.share < LEAST_SHARE or readings < LEAST_READINGS or rise_k < LEAST_RISE_K:
        raise _too_short(view, begin, end, bend)


def _too_short(view: View, begin: int, end: int, bend: Bend) -> TooShort:
    return TooShort(
        **_span(view, begin, end),
        kind="heating",
        readings=int(view.edges[end] - view.edges[begin]),
        from_c=float(view.temps_c[begin]),
        to_c=float(view.temps_c[end - 1]),
        least_readings=LEAST_READINGS,
        least_share=LEAST_SHARE,
        toward=said("the ceiling, which lies near {ceiling_c:.0f} °C", ceiling_c=bend.ceiling_c),
    )


def _span(view: View, begin: int, end: int) -> dict[str, object]:
    starts, ends = float(view.minutes[begin]), float(view.minutes[end - 1])
    return {"field": "stretches", "from_min": starts, "to_min": ends}


def bend_of(minutes: Array, temps_c: Array) -> Bend:
    """The best curve toward a ceiling, by trying lengths in time constants; for each the rest is linear."""
    along = (minutes - minutes[0]) / (minutes[-1] - minutes[0])
    shapes = np.exp(-np.outer(BENDS, along))
    centred, up = shapes - shapes.mean(axis=1, keepdims=True), temps_c - temps_c.mean()
    slopes = centred @ up / np.einsum("ij,ij->i", centred, centred)
    left = float(up @ up) - slopes * (centred @ up)
    left = np.where(slopes < 0, left, np.inf)
    best = int(np.argmin(left))
    ceiling_c = float(temps_c.mean() - slopes[best] * shapes[best].mean())
    rms_k = float(np.sqrt(max(float(left[best]), 0.0) / len(minutes)))
    return Bend(constants=float(BENDS[best]), ceiling_c=ceiling_c, rms_k=rms_k)
