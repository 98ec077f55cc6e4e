"""A controller with few segments gets the best program that fits: stages merge, no faster than permitted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf

from studios.thermal.body import Body
from studios.thermal.errors import TooFewSegments
from studios.thermal.limits import Rule
from studios.thermal.phases import Phase
from studios.thermal.program import Segment, follow


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """What is keyed in, and the stages it stands for; the curve is that of the stages.

    Stages merged into one segment all go at the slowest rate of them, so no piece sees a faster one.
    """

    keyed: tuple[Segment, ...]
    stages: tuple[Segment, ...]


def fit_controller(body: Body, start_c: float, stages: Sequence[Segment], most: int | None) -> Fitted:
    """The shortest program of at most so many segments; None: the controller takes any number.

    A hold is never given up. A last stage that the body is too slow for needs no segment: the program ends,
    the heat is off, and it cools no faster than permitted. Raises TooFewSegments.
    """
    if most is None or len(stages) <= most:
        return Fitted(keyed=tuple(stages), stages=tuple(stages))
    ways = [_merged(stages, joins) for joins in product((False, True), repeat=len(stages) - 1)]
    free = [way for way in ways if way is not None]
    fitting = [way for way in free if _count(way) <= most]
    if not fitting:
        raise TooFewSegments(field="controller_segments", needed=min(map(_count, free)), most=most)
    return min(
        fitting, key=lambda way: (follow(body, start_c, way.stages).duration_min, _count(way), len(way.keyed))
    )


def _count(way: Fitted) -> int:
    return sum(segment.keyed for segment in way.keyed)


def _merged(stages: Sequence[Segment], joins: Sequence[bool]) -> Fitted | None:
    """The program in which each stage joins the one before where it is said to; None where it cannot."""
    groups: list[list[Segment]] = [[stages[0]]]
    for stage, join in zip(stages[1:], joins, strict=True):
        if not join:
            groups.append([stage])
        elif _may_join(groups, stage):
            groups[-1].append(stage)
        else:
            return None
    levelled = [tuple(_at_slowest(group)) for group in groups]
    keyed = tuple(_switched_off([_one(group) for group in levelled]))
    marked = (
        replace(stage, keyed=one.keyed) for group, one in zip(levelled, keyed, strict=True) for stage in group
    )
    return Fitted(keyed=keyed, stages=tuple(marked))


def _may_join(groups: Sequence[Sequence[Segment]], stage: Segment) -> bool:
    """Without a hold between them and going the same way; or a hold that only goes on at the same heat."""
    before = groups[-1][-1]
    if stage.target_c == before.target_c:
        return before.hold_min > 0
    if before.hold_min > 0:
        return False
    came_from = groups[-1][-2] if len(groups[-1]) > 1 else groups[-2][-1] if len(groups) > 1 else None
    rising_before = came_from is None or before.target_c > came_from.target_c
    return rising_before == (stage.target_c > before.target_c)


def _at_slowest(group: Sequence[Segment]) -> Iterator[Segment]:
    """Every stage of a group at the rate of its slowest, with the rule that set it."""
    ramped = [segment for segment in group if not _level(group, segment)]
    slowest = min(ramped, key=_rate)
    for segment in group:
        if _level(group, segment) or _rate(segment) == _rate(slowest):
            yield segment
        else:
            yield replace(segment, rate_c_per_h=slowest.rate_c_per_h, governed_by=slowest.governed_by)


def _level(group: Sequence[Segment], segment: Segment) -> bool:
    return segment is not group[0] and segment.target_c == group[0].target_c


def _rate(segment: Segment) -> float:
    return inf if segment.rate_c_per_h is None else segment.rate_c_per_h


def _one(group: Sequence[Segment]) -> Segment:
    """A group as the one segment that is keyed in: its first rate, its last target, its holds together."""
    last = group[-1]
    if len(group) == 1:
        return last
    holds = [segment for segment in group if segment.hold_min > 0]
    return replace(
        group[0],
        target_c=last.target_c,
        hold_min=sum(segment.hold_min for segment in holds),
        hold_phase=last.hold_phase,
        hold_governed_by=" and ".join(segment.hold_governed_by for segment in holds),
    )


def _switched_off(segments: Sequence[Segment]) -> Iterator[Segment]:
    """The last stages that the equipment governs need no segment: it cools by itself.

    The fall through the annealing range is entered all the same: a draught must not decide about the glass.
    """
    last_needed = max(
        (at for at, segment in enumerate(segments) if not _by_itself(segments, at)), default=len(segments) - 1
    )
    for at, segment in enumerate(segments):
        yield segment if at <= last_needed else replace(segment, keyed=False)


def _by_itself(segments: Sequence[Segment], at: int) -> bool:
    segment = segments[at]
    falls = at > 0 and segment.target_c < segments[at - 1].target_c
    falls = falls and segment.phase is not Phase.ANNEALING
    return falls and segment.hold_min == 0 and segment.governed_by == Rule.EQUIPMENT.value
