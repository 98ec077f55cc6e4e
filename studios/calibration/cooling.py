"""The free fall in a log: after holds and controlled cooling, with the door shut, down to the door."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from studios.calibration.errors import ControlledCooling, DoorOpened, FitError, NotCooling, TooShort
from studios.calibration.log import Log
from studios.calibration.shape import (
    BREAK,
    CHUNK_READINGS,
    FREE_POWER,
    MARKED_NOISES,
    TURN_K,
    View,
    breaks,
    chunks,
    evened_out,
    is_straighter,
    power_of_fall,
    rate,
    straight_k_per_h,
    turns,
    view_of,
)
from studios.calibration.stretches import Kind, Stretch, stretch_of, windows
from studios.said import said

LEAST_READINGS = 12
LEAST_POINTS = 8  # two for each of four parts
LEAST_SHARE = 0.3  # of the way to ambient
OFF_SHARE = 0.01
HOLD_SHARE = 0.25  # of the fastest rate: slower is a hold
FREE_SHARE = 0.98  # of the rate that follows: slower is controlled
CONTROL_DEVIATIONS = 4.0
WINDOW_SHARE = 0.15
HOLD_NOISES = 3.0
LEAST_FALL_SHARE = 0.05  # a smaller fall is no cooling at all
NEAR_AMBIENT_SHARE = 0.15  # of the excess: below, an ambient that is a few kelvin off would mislead
LEAST_EXCESS_K = 6.0
KNOWN_DROP = 0.15  # the log of the least fall from which straight and free can be told apart
BRIDGE_MIN = 60.0
BRIDGE_SHARE = 0.3


@dataclass(frozen=True, kw_only=True)
class Search:
    """What a search through a log gave: stretches that hold and refusals of those that do not."""

    stretches: tuple[Stretch, ...]
    refusals: tuple[FitError, ...]


@dataclass(frozen=True, kw_only=True)
class Room:
    """The surroundings of a cooling: the ambient temperature, and where the door may be opened."""

    ambient_c: float
    door_c: float


def find_coolings(log: Log, room: Room) -> Search:
    """Every stretch of free fall, the greatest fall first; readings below the door temperature are not used.

    In a free fall the rate goes with T − Ta. A hold or a straight controlled fall before it is left out. A
    rate that jumps up within a free fall is an opened door. Where the log tells the heating, it must be off.
    """
    stretches: list[Stretch] = []
    refusals: list[FitError] = []
    for first, last in windows(log.heating, len(log.minutes), low=0.0, high=OFF_SHARE):
        if last - first >= LEAST_READINGS:
            view = view_of(log, first, last)
            for begin, end in _falls(view, room):
                _look_into(log, view, (begin, end), room, stretches, refusals)
    stretches.sort(key=lambda stretch: -fall_logs(log, stretch, room.ambient_c))
    return Search(stretches=tuple(stretches), refusals=tuple(refusals))


def _look_into(
    log: Log,
    view: View,
    fall: tuple[int, int],
    room: Room,
    stretches: list[Stretch],
    refusals: list[FitError],
) -> None:
    try:
        require_shut(view, *fall, room)
    except DoorOpened as opened:
        refusals.append(opened)
        return
    for begin, end in _between_holds(view, *fall, room):
        start = begin if log.heating is not None else _free_from(view, begin, end, room)
        try:
            _require_free(view, start, end, room, known_from=begin)
        except FitError as refusal:
            refusals.append(refusal)
        else:
            readings = int(view.edges[start]), int(view.edges[end])
            stretches.append(stretch_of(log, Kind.COOLING, *readings, found=True))


def check_cooling(log: Log, stretch: Stretch, room: Room) -> Stretch:
    """A cooling that a person marked, ended at the door temperature.

    Raises TooShort, NotCooling, ControlledCooling or DoorOpened.
    """
    view = view_of(log, stretch.first, stretch.last)
    end = _above_door(view, 0, len(view), room)
    require_shut(view, 0, end, room)
    _require_falling(view, end if end > 1 else len(view))
    _require_free(view, 0, end, room, known_from=0)
    return stretch_of(log, Kind.COOLING, stretch.first, int(view.edges[end]), found=False)


def fall_logs(log: Log, stretch: Stretch, ambient_c: float) -> float:
    """How many time constants long a cooling is."""
    start, end = log.temps_c[stretch.first] - ambient_c, log.temps_c[stretch.last - 1] - ambient_c
    return float(np.log(max(start, 1.0) / max(end, 1.0)))


def _falls(view: View, room: Room) -> Iterator[tuple[int, int]]:
    """Falling parts down to the door; a short rise within one, as after a door, does not divide it."""
    parts = turns(view)
    begin: int | None = None
    for place, (first, last) in enumerate(parts):
        if view.temps_c[first] <= view.temps_c[last]:
            continue
        begin = _past_turn(first) if begin is None else begin
        if place + 2 < len(parts) and _bridged(view, parts[place + 1], room):
            continue
        end = _above_door(view, begin, last + 1, room)
        if end - begin >= CHUNK_READINGS and _drop(view, begin, end, room) >= LEAST_FALL_SHARE:
            yield begin, end
        begin = None


def _past_turn(point: int) -> int:
    """Which of the two or three hottest readings is the last with heat nobody can tell: they are left out."""
    return point + 2 if point > 0 else 0


def _bridged(view: View, rise: tuple[int, int], room: Room) -> bool:
    first, last = rise
    share = (view.temps_c[last] - view.temps_c[first]) / max(view.temps_c[last] - room.ambient_c, 1.0)
    return bool(view.minutes[last] - view.minutes[first] <= BRIDGE_MIN and share <= BRIDGE_SHARE)


def _above_door(view: View, begin: int, end: int, room: Room) -> int:
    """Up to where the evened-out readings come below the door temperature: from there it may be open."""
    low_c = max(room.door_c, room.ambient_c + LEAST_EXCESS_K)
    below = np.flatnonzero(evened_out(view.temps_c[begin:end]) < low_c) if end > begin else np.empty(0)
    return begin + int(below[0]) if len(below) else end


def _between_holds(view: View, begin: int, end: int, room: Room) -> list[tuple[int, int]]:
    """The parts of a fall divided by holds, where it nearly stands still."""
    pieces = chunks(view, begin, end - 1)
    if not pieces:
        return [(begin, end)]
    rates = [rate(view, a, b, room.ambient_c).per_h for a, b in pieces]
    slow = HOLD_SHARE * float(np.median([each for each in rates if each > 0] or [0.0]))
    parts: list[tuple[int, int]] = []
    for (a, b), per_h in zip(pieces, rates, strict=True):
        if per_h < slow:
            continue
        joins = bool(parts) and parts[-1][1] == a
        parts = [*parts[:-1], (parts[-1][0], b)] if joins else [*parts, (a, b)]
    if parts and parts[-1][1] == pieces[-1][1]:
        parts[-1] = (parts[-1][0], end)
    return parts


def _free_from(view: View, begin: int, end: int, room: Room) -> int:
    """Where a hold or a controlled fall has ended: from here on the rate gets no faster.

    The fall is looked at in windows of 15 % each. A window clearly slower than the three after it was still
    controlled; where more than one was, one more is left out, since the last may be free in part.
    """
    start = _after_hold(view, begin, end)
    windows_ = _windows(view, start, end, room)
    slower = [i for i in range(len(windows_) - 1) if _still_controlled(view, windows_, i, room)]
    if not slower:
        return start
    last = slower[-1] + (2 if slower[-1] > 0 else 1)
    return windows_[min(last, len(windows_) - 1)][0]


def _after_hold(view: View, begin: int, end: int) -> int:
    """The last point near the start that is as hot as the start."""
    last = begin + 2
    # Twice: the fall begins at the hottest reading of a hold, and only its mean is the hold.
    for _ in range(2):
        level_c = float(np.median(view.temps_c[begin : last + 1])) - HOLD_NOISES * view.noise_k
        near = np.flatnonzero(view.temps_c[begin:end] >= level_c)
        last = begin + int(near[-1]) if len(near) else begin
    if begin == 0 and last <= 3:
        return 0
    # Readings next to the choice were chosen by their noise.
    return min(last + 3, end - 1)


def _windows(view: View, begin: int, end: int, room: Room) -> list[tuple[int, int]]:
    # Cut by evened-out readings: cut by raw ones, each window would begin with a low one.
    excess = np.minimum.accumulate(evened_out(view.temps_c[begin:end])) - room.ambient_c
    parts: list[tuple[int, int]] = []
    start = 0
    while start < len(excess) and excess[start] > NEAR_AMBIENT_SHARE * excess[0]:
        colder = np.flatnonzero(excess < (1 - WINDOW_SHARE) * excess[start])
        stop = max(start + CHUNK_READINGS, int(colder[0]) if len(colder) else len(excess))
        parts.append((begin + start, begin + min(stop, len(excess))))
        start = stop
    return parts


def _still_controlled(view: View, parts: list[tuple[int, int]], place: int, room: Room) -> bool:
    here = rate(view, *parts[place], room.ambient_c)
    after = rate(view, parts[place + 1][0], parts[min(place + 3, len(parts) - 1)][1], room.ambient_c)
    doubt = CONTROL_DEVIATIONS * float(np.hypot(here.error_per_h, after.error_per_h))
    return here.per_h < FREE_SHARE * after.per_h - doubt


def _require_falling(view: View, end: int) -> None:
    rises = view.temps_c[:end] - np.minimum.accumulate(view.temps_c[:end])
    if len(rises) and rises.max() > max(TURN_K, MARKED_NOISES * view.noise_k):
        place = int(np.argmax(rises))
        at_min, rise_k = float(view.minutes[place]), float(rises[place])
        raise NotCooling(**_span(view, 0, end), at_min=at_min, rise_k=rise_k)


def _require_free(view: View, begin: int, end: int, room: Room, *, known_from: int) -> None:
    """Free all the way, and long enough; a fall that is short because it was controlled is told as such."""
    short = _is_short(view, begin, end, room)
    whole = end - known_from >= LEAST_READINGS and _is_straight(view, known_from, end, room)
    if whole if short else _is_straight(view, begin, end, room):
        part = known_from if whole else begin
        rate_c_per_h = straight_k_per_h(view, part, end)
        raise ControlledCooling(**_span(view, part, end), rate_c_per_h=rate_c_per_h)
    if short:
        raise _too_short(view, begin, end, room)


def _is_short(view: View, begin: int, end: int, room: Room) -> bool:
    share = 1 - np.exp(-_drop(view, begin, end, room))
    return bool(view.edges[end] - view.edges[begin] < LEAST_READINGS or share < LEAST_SHARE)


def _too_short(view: View, begin: int, end: int, room: Room) -> TooShort:
    last = max(begin, end - 1)
    return TooShort(
        **_span(view, begin, end),
        kind="cooling",
        readings=int(view.edges[end] - view.edges[begin]),
        from_c=float(view.temps_c[begin]),
        to_c=float(view.temps_c[last]),
        least_readings=LEAST_READINGS,
        least_share=LEAST_SHARE,
        toward=said("the ambient temperature of {ambient_c:g} °C", ambient_c=room.ambient_c),
    )


def _span(view: View, begin: int, end: int) -> dict[str, object]:
    last = max(begin, end - 1)
    return {
        "field": "stretches",
        "from_min": float(view.minutes[begin]),
        "to_min": float(view.minutes[last]),
    }


def _drop(view: View, begin: int, end: int, room: Room) -> float:
    """How many time constants a fall is long, from the mean of a few points at each end."""
    if end - begin < 2:
        return 0.0
    few = min(3, end - begin)
    high = float(np.mean(view.temps_c[begin : begin + few])) - room.ambient_c
    low = float(np.mean(view.temps_c[end - few : end])) - room.ambient_c
    return float(np.log(max(high, 1.0) / max(low, 1.0)))


def _is_straight(view: View, begin: int, end: int, room: Room) -> bool:
    known = end - begin >= LEAST_POINTS and _drop(view, begin, end, room) >= KNOWN_DROP
    return known and power_of_fall(view, begin, end, room.ambient_c) < FREE_POWER


def _is_free(view: View, begin: int, end: int, room: Room) -> bool:
    known = end - begin >= LEAST_POINTS and _drop(view, begin, end, room) >= KNOWN_DROP
    free = known and power_of_fall(view, begin, end, room.ambient_c) >= FREE_POWER
    return free and not is_straighter(view, begin, end, room.ambient_c)


def require_shut(view: View, begin: int, end: int, room: Room) -> None:
    """No door, vent or lid was opened: a free fall never gets faster. Raises DoorOpened.

    Either the fall before was seen to be free; or it was too brief to tell, and the rate drops again to a
    free fall much slower than the spike (no controller cools faster than the body falls by itself).
    """
    found = breaks(view, chunks(view, begin, end - 1), room.ambient_c)
    ends = [begin, *(point for point, _ in found), end]
    for place, (point, times) in enumerate(found, start=1):
        faster = times > 1 and rate(view, ends[place - 1], point, room.ambient_c).per_h > 0
        if faster and (_is_free(view, ends[place - 1], point, room) or _is_spike(view, ends, place, room)):
            at_min, at_c = float(view.minutes[point]), float(view.temps_c[max(begin, point - 1)])
            raise DoorOpened(field="stretches", at_min=at_min, at_c=at_c, times=times)


def _is_spike(view: View, ends: list[int], place: int, room: Room) -> bool:
    if place + 2 >= len(ends) or _is_straight(view, ends[place - 1], ends[place], room):
        return False
    before, during, after = (
        rate(view, ends[place + step - 1], ends[place + step], room.ambient_c).per_h for step in range(3)
    )
    shut_again = _is_free(view, ends[place + 1], ends[place + 2], room) and during > BREAK * after
    return shut_again and before > HOLD_SHARE * after
