"""What the shape of a fall or a rise says: noise, cooling rate, straight or free, and where it breaks."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from studios.calibration.log import Log

Array = NDArray[np.float64]

MOST_POINTS = 4000  # more are averaged in blocks before anything is looked for
LEAST_NOISE_K = 0.05
CHUNK_K = 10.0
CHUNK_NOISES = 10.0
CHUNK_READINGS = 4
CHUNK_MIN = 120.0
EVEN_OUT = 7  # points, an odd number
TURN_K = 5.0
TURN_NOISES = 6.0
MARKED_NOISES = 9.0
FREE_POWER = 0.5  # rate ∝ (T − Ta)^p: p is 1 in a free fall, more for brick, 0 on a straight line
BREAK = 1.35  # times faster or slower
BREAK_DEVIATIONS = 5.0
SLOWEST_PER_H = 1e-4


@dataclass(frozen=True, kw_only=True)
class View:
    """Part of a log as it is looked at: point i stands for its readings [edges[i], edges[i + 1])."""

    minutes: Array
    temps_c: Array
    edges: NDArray[np.intp]
    noise_k: float

    def __len__(self) -> int:
        return len(self.minutes)


@dataclass(frozen=True, kw_only=True)
class Rate:
    """How fast the excess over ambient falls, as a share of itself for each hour (1/τ in a free fall)."""

    per_h: float
    error_per_h: float


def view_of(log: Log, first: int, last: int) -> View:
    """The readings [first, last) of a log, averaged in blocks where there are very many."""
    minutes, temps_c = np.array(log.minutes[first:last]), np.array(log.temps_c[first:last])
    size = -(-len(minutes) // MOST_POINTS)
    edges = np.append(np.arange(0, len(minutes), size), len(minutes))
    return View(
        minutes=np.add.reduceat(minutes, edges[:-1]) / np.diff(edges),
        temps_c=np.add.reduceat(temps_c, edges[:-1]) / np.diff(edges),
        edges=edges + first,
        noise_k=noise_k(minutes, temps_c) / float(np.sqrt(size)),
    )


def noise_k(minutes: Array, temps_c: Array) -> float:
    """Standard deviation of a reading: how far it lies from the line between its neighbours, robustly.

    Never less than what rounding to the thermometer's step makes of it, step/√12.
    """
    share = (minutes[1:-1] - minutes[:-2]) / (minutes[2:] - minutes[:-2])
    off = temps_c[1:-1] - (1 - share) * temps_c[:-2] - share * temps_c[2:]
    scaled = np.abs(off) / np.sqrt(1 + (1 - share) ** 2 + share**2)
    spread = 1.4826 * float(np.median(scaled)) if len(scaled) else 0.0
    return max(LEAST_NOISE_K, step_k(temps_c) / 12**0.5, spread)


def step_k(temps_c: Array) -> float:
    """The smallest difference between two readings: the step of the thermometer, or next to nothing."""
    steps = np.diff(np.unique(np.round(temps_c, 6)))
    return float(steps.min()) if len(steps) else 0.0


def evened_out(temps_c: Array) -> Array:
    """Each reading as the mean of it and its neighbours."""
    padded = np.pad(temps_c, EVEN_OUT // 2, mode="edge")
    return np.convolve(padded, np.full(EVEN_OUT, 1 / EVEN_OUT), mode="valid")


def turns(view: View) -> list[tuple[int, int]]:
    """Points between which the log falls (first > last in °C) or rises, in order, ignoring noise."""
    least_k = max(TURN_K, TURN_NOISES * view.noise_k)
    temps = view.temps_c.tolist()
    ends, way, low, high = [0], 0, 0, 0
    for place, temp in enumerate(temps):
        low = place if temp < temps[low] else low
        high = place if temp >= temps[high] else high
        if way >= 0 and temp < temps[high] - least_k:
            ends, way, low = [*ends, high], -1, place
        elif way <= 0 and temp > temps[low] + least_k:
            ends, way, high = [*ends, low], 1, place
    ends.append(len(temps) - 1)
    return [(first, last) for first, last in pairwise(ends) if last > first]


def chunks(view: View, first: int, last: int) -> list[tuple[int, int]]:
    """Half-open pieces just long enough for a rate: a change well above the noise, or two hours."""
    least_k = max(CHUNK_K, CHUNK_NOISES * view.noise_k)
    temps, minutes = view.temps_c.tolist(), view.minutes.tolist()
    pieces, start = [], first
    for place in range(first, last + 1):
        enough = abs(temps[place] - temps[start]) >= least_k or minutes[place] - minutes[start] >= CHUNK_MIN
        if enough and place - start + 1 >= CHUNK_READINGS:
            pieces.append((start, place + 1))
            start = place + 1
    return pieces


def rate(view: View, first: int, last: int, ambient_c: float) -> Rate:
    """The share of the excess lost for each hour over the points [first, last)."""
    if last - first < 2:
        return Rate(per_h=0.0, error_per_h=np.inf)
    hours = view.minutes[first:last] / 60
    excess = np.maximum(view.temps_c[first:last] - ambient_c, view.noise_k)
    centred = hours - hours.mean()
    spread = float(centred @ centred)
    weight = view.noise_k / float(excess.mean())
    return Rate(per_h=-float(centred @ np.log(excess)) / spread, error_per_h=weight / np.sqrt(spread))


def straight_k_per_h(view: View, first: int, last: int) -> float:
    """The rise or fall for each hour along a straight line through the points [first, last)."""
    slope = np.polyfit(view.minutes[first:last] / 60, view.temps_c[first:last], 1)[0]
    return abs(float(slope))


def is_straighter(view: View, first: int, last: int, ambient_c: float) -> bool:
    """Whether a straight line fits the points [first, last) better than a free fall does."""
    hours, temps_c = view.minutes[first:last] / 60, view.temps_c[first:last]
    logs = np.log(np.maximum(temps_c - ambient_c, view.noise_k))
    free_c = ambient_c + np.exp(np.polyval(np.polyfit(hours, logs, 1), hours))
    straight_c = np.polyval(np.polyfit(hours, temps_c, 1), hours)
    return bool(np.sum((temps_c - straight_c) ** 2) < np.sum((temps_c - free_c) ** 2))


def power_of_fall(view: View, first: int, last: int, ambient_c: float) -> float:
    """p in: the rate goes with (T − Ta)^p, from the rates of four parts of the points [first, last)."""
    edges = np.linspace(first, last, 5).astype(int)
    parts = list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))
    rates = [rate(view, a, b, ambient_c) for a, b in parts]
    excess = np.array([float(np.mean(view.temps_c[a:b])) - ambient_c for a, b in parts])
    per_h = np.array([max(each.per_h, SLOWEST_PER_H) for each in rates])
    across = np.log(np.maximum(excess, view.noise_k))
    across -= across.mean()
    spread = float(across @ across)
    return 1 + float(across @ np.log(per_h)) / spread if spread > 0 else 0.0


def breaks(view: View, pieces: list[tuple[int, int]], ambient_c: float) -> list[tuple[int, float]]:
    """Where the rate changes by more than a third within a chunk or two, and how many times as fast."""
    found: list[tuple[int, float]] = []
    for place in range(1, len(pieces)):
        before = rate(view, pieces[max(0, place - 2)][0], pieces[place - 1][1], ambient_c)
        ends = {pieces[place][1], pieces[min(len(pieces), place + 2) - 1][1]}
        changes = (_change(before, rate(view, pieces[place][0], end, ambient_c)) for end in ends)
        times = max(changes, key=lambda each: abs(np.log(each)))
        if times != 1.0:
            found.append((place, times))
    return [_sharpened(view, pieces, place, times, ambient_c) for place, times in _strongest(found)]


def _change(before: Rate, after: Rate) -> float:
    """How many times as fast; 1 where the change is small or within the noise."""
    times = max(after.per_h, SLOWEST_PER_H) / max(before.per_h, SLOWEST_PER_H)
    clear_per_h = BREAK_DEVIATIONS * float(np.hypot(before.error_per_h, after.error_per_h))
    is_clear = abs(after.per_h - before.per_h) > clear_per_h
    return times if is_clear and abs(np.log(times)) > np.log(BREAK) else 1.0


def _strongest(found: list[tuple[int, float]]) -> list[tuple[int, float]]:
    """Of neighbouring breaks in one direction only the greatest."""
    kept: list[tuple[int, float]] = []
    for place, times in found:
        same = bool(kept) and place - kept[-1][0] <= 2 and (times > 1) == (kept[-1][1] > 1)
        if same and abs(np.log(times)) > abs(np.log(kept[-1][1])):
            kept[-1] = (place, times)
        elif not same:
            kept.append((place, times))
    return kept


def _sharpened(
    view: View, pieces: list[tuple[int, int]], place: int, times: float, ambient_c: float
) -> tuple[int, float]:
    """The point near a break from which two straight lines in ln(T − Ta) fit best."""
    first, last = pieces[place - 1][0], pieces[place][1]
    hours = view.minutes[first:last] / 60
    logs = np.log(np.maximum(view.temps_c[first:last] - ambient_c, view.noise_k))
    cuts = np.unique(np.linspace(2, len(hours) - 2, 80).astype(int))
    misfit = [_misfit(hours[:cut], logs[:cut]) + _misfit(hours[cut:], logs[cut:]) for cut in cuts]
    return first + int(cuts[int(np.argmin(misfit))]), times


def _misfit(hours: Array, logs: Array) -> float:
    centred, up = hours - hours.mean(), logs - logs.mean()
    spread = float(centred @ centred)
    return float(up @ up) - (float(centred @ up) ** 2 / spread if spread > 0 else 0.0)
