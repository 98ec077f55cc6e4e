"""What a thermocouple cannot have measured and what a logger wrote twice, taken out and told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from operator import attrgetter
from statistics import fmean, median

from studios.said import said

HOTTEST_C = 1400.0
COLDEST_C = -60.0
HEAT_C = 50.0  # at 0 °C beside a reading this warm, the thermocouple has dropped out
JUMP_K = 50.0  # the least jump that counts, and
JUMP_K_PER_MIN = 30.0  # how fast: twice the fall of a kiln whose door is opened wide
JUMP_BACK_SHARE = 0.5
LONGEST_JUMP_MIN = 180.0
GAP_READINGS = 5.0
SHORTEST_GAP_MIN = 10.0
LONGEST_LIST = 20


@dataclass(frozen=True, kw_only=True)
class Reading:
    minute: float
    temp_c: float
    line: int
    heating: float | None = None


def told(lines: Iterable[int], why: str) -> Iterator[str]:
    """A sentence for each run of neighbouring lines: every line that was dropped can be found."""
    ordered = sorted(set(lines))
    runs = groupby(enumerate(ordered), key=lambda pair: pair[1] - pair[0])
    for _, run in runs:
        members = [line for _, line in run]
        if len(members) == 1:
            yield said("line {line}: {why}", line=members[0], why=why)
        else:
            yield said("lines {first}-{last}: {why}", first=members[0], last=members[-1], why=why)


def out_of_order(readings: list[Reading]) -> tuple[list[Reading], list[str]]:
    """By time; every line that stood before an earlier one is told, many of them in one sentence."""
    late = [second.line for first, second in pairwise(readings) if second.minute < first.minute]
    ordered = sorted(readings, key=lambda reading: (reading.minute, reading.temp_c, reading.line))
    why = said("earlier than the line before; put in order of time.")
    if len(late) > LONGEST_LIST:
        return ordered, [
            said("line {line} and {more} more: {why}", line=late[0], more=len(late) - 1, why=why)
        ]
    return ordered, list(told(late, why))


def merged(readings: list[Reading]) -> tuple[list[Reading], list[str]]:
    """One reading for each moment: a row written twice counts once, different ones are averaged."""
    kept: list[Reading] = []
    repeated: list[int] = []
    averaged: list[int] = []
    for _, group in groupby(readings, key=attrgetter("minute")):
        rows = list(group)
        different = {row.temp_c: row for row in reversed(rows)}
        repeated += [row.line for row in rows if row.line != different[row.temp_c].line]
        if len(different) > 1:
            averaged += [row.line for row in different.values()]
        kept.append(replace(rows[0], temp_c=fmean(different), heating=_highest(rows)))
    notices = list(told(repeated, said("the same time and temperature again; counted once.")))
    mean = said("different temperatures at one time; their mean is taken.")
    return kept, notices + list(told(averaged, mean))


def _highest(rows: list[Reading]) -> float | None:
    return max((row.heating for row in rows if row.heating is not None), default=None)


def without_drop_outs(readings: list[Reading]) -> tuple[list[Reading], list[str]]:
    """Above 1400 °C or below -60, at 0 °C or below beside heat, and jumps no kiln can make that come back."""
    possible = [reading for reading in readings if COLDEST_C <= reading.temp_c <= HOTTEST_C]
    burnt = [reading.line for reading in readings if not COLDEST_C <= reading.temp_c <= HOTTEST_C]
    cold = _cold_in_heat(possible)
    warm = [reading for reading in possible if reading.line not in cold]
    jumped = _jumped(warm)
    kept = [reading for reading in warm if reading.line not in jumped]
    never = said(
        "not between {coldest:g} and {hottest:g} °C: no temperature of a kiln; left out.",
        coldest=COLDEST_C,
        hottest=HOTTEST_C,
    )
    dropped = said("0 °C or below in the middle of heat: the thermocouple dropped out; left out.")
    jump = said("a jump that no kiln can make, and back: the thermocouple dropped out; left out.")
    return kept, [*told(burnt, never), *told(cold, dropped), *told(jumped, jump)]


def _cold_in_heat(readings: list[Reading]) -> set[int]:
    cold: set[int] = set()
    before_c = -float("inf")
    runs = [(is_cold, list(run)) for is_cold, run in groupby(readings, key=lambda each: each.temp_c <= 0)]
    for place, (is_cold, run) in enumerate(runs):
        after_c = runs[place + 1][1][0].temp_c if place + 1 < len(runs) else -float("inf")
        if is_cold and max(before_c, after_c) > HEAT_C:
            cold |= {reading.line for reading in run}
        before_c = run[-1].temp_c
    return cold


def _jumped(readings: list[Reading]) -> set[int]:
    """Readings between a jump away and a jump back of at least half of it, within three hours."""
    jumps = [
        (place, b.temp_c - a.temp_c) for place, (a, b) in enumerate(pairwise(readings)) if _is_jump(a, b)
    ]
    gone: set[int] = set()
    back_at = -1
    for (away, by_k), (back, back_k) in pairwise(jumps):
        lasts_min = readings[back].minute - readings[away + 1].minute
        returns = by_k * back_k < 0 and abs(back_k) >= JUMP_BACK_SHARE * abs(by_k)
        if away > back_at and returns and lasts_min <= LONGEST_JUMP_MIN:
            gone |= {reading.line for reading in readings[away + 1 : back + 1]}
            back_at = back
    return gone


def _is_jump(first: Reading, second: Reading) -> bool:
    fast_k = max(JUMP_K, JUMP_K_PER_MIN * (second.minute - first.minute))
    return abs(second.temp_c - first.temp_c) > fast_k


def gaps(readings: list[Reading]) -> Iterator[str]:
    """Times without a reading: over five times as long as is usual in the log, ten minutes at least."""
    steps = [second.minute - first.minute for first, second in pairwise(readings)]
    if not steps:
        return
    long_min = max(SHORTEST_GAP_MIN, GAP_READINGS * median(steps))
    for (_, second), step in zip(pairwise(readings), steps, strict=True):
        if step > long_min:
            yield said(
                "line {line}: no reading for {minutes:.0f} minutes before it.", line=second.line, minutes=step
            )
