"""A firing program as a kiln controller takes it, and the curve a body makes of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from studios.thermal.body import Body
from studios.thermal.curve import Curve, CurvePiece, end_to_end
from studios.thermal.limits import Limit, LoadLimits, Rule
from studios.thermal.motion import falling, keeping, warming
from studios.thermal.phases import Phase
from studios.thermal.recipe import Process


@dataclass(frozen=True, kw_only=True)
class Segment:
    """Go to a target at a rate (None: as fast as the body goes), then hold.

    `phase` is that of the way there, `hold_phase` that of the hold; beside each stands what governed it.
    """

    rate_c_per_h: float | None
    target_c: float
    hold_min: float
    phase: Phase
    governed_by: str
    hold_phase: Phase = Phase.HOLDING
    hold_governed_by: str = ""


def follow(body: Body, start_c: float, segments: Iterable[Segment]) -> Curve:
    """What the body really does: each segment the slower of what is asked and what the body can."""
    return end_to_end(_pieces(body, start_c, segments))


def _pieces(body: Body, start_c: float, segments: Iterable[Segment]) -> Iterator[CurvePiece]:
    at_c = start_c
    for segment in segments:
        move = warming if segment.target_c > at_c else falling
        if segment.target_c != at_c:
            yield from move(
                body,
                from_c=at_c,
                to_c=segment.target_c,
                rate_c_per_h=segment.rate_c_per_h,
                phase=segment.phase,
            )
        at_c = segment.target_c
        if segment.hold_min > 0:
            yield keeping(at_c=at_c, minutes=segment.hold_min, phase=segment.hold_phase)


def to_hold(body: Body, limits: LoadLimits) -> Segment:
    """An empty annealer is heated as fast as it may be, to be ready when the first piece is."""
    return Segment(
        rate_c_per_h=body.ramp_limit_c_per_h,
        target_c=limits.hold_c,
        hold_min=0,
        phase=Phase.HEAT_UP,
        governed_by=Rule.EQUIPMENT.value,
    )


def heat_and_process(body: Body, limits: LoadLimits, process: Process, start_c: float) -> list[Segment]:
    """From cold through the squeeze, where the program has one, to the process temperature and its hold."""
    stops = [(process.squeeze_c, process.squeeze_min)] if process.squeeze_c is not None else []
    stops.append((process.process_c, process.hold_min))
    segments: list[Segment] = []
    at_c = start_c
    for target_c, hold_min in stops:
        segments += _heat_to(body, limits, from_c=at_c, to_c=target_c, hold_min=hold_min)
        at_c = target_c
    return segments


def _heat_to(body: Body, limits: LoadLimits, *, from_c: float, to_c: float, hold_min: float) -> list[Segment]:
    """Brittle glass at its own limit; past its annealing point at the studio's ramp for hot glass."""
    brittle_until_c = min(limits.brittle_until_c, to_c)
    if from_c >= brittle_until_c:
        return [_heating(body, limits.hot, from_c, to_c, hold_min)]
    if brittle_until_c == to_c:
        return [_heating(body, limits.heating, from_c, to_c, hold_min)]
    return [
        _heating(body, limits.heating, from_c, brittle_until_c, 0),
        _heating(body, limits.hot, brittle_until_c, to_c, hold_min),
    ]


def _heating(body: Body, limit: Limit, from_c: float, to_c: float, hold_min: float) -> Segment:
    able = min(body.full_power_c_per_h(from_c), body.capped_ramp_c_per_h(None))
    return Segment(
        rate_c_per_h=body.capped_ramp_c_per_h(limit.rate_c_per_h),
        target_c=to_c,
        hold_min=hold_min,
        phase=Phase.HEAT_UP,
        governed_by=(Rule.EQUIPMENT if able <= limit.rate_c_per_h else limit.rule).value,
        hold_governed_by=Rule.RECIPE.value if hold_min else "",
    )


def soak_and_cool(body: Body, limits: LoadLimits, arriving: Phase) -> list[Segment]:
    """Come to the hold temperature by the body's own cooling, soak, then the two stages to the open door.

    `arriving` is the phase of the way to the hold: cooling after a kiln program, the soak itself where the
    equipment holds already.
    """
    return [
        Segment(
            rate_c_per_h=None,
            target_c=limits.hold_c,
            hold_min=limits.soak.minutes,
            phase=arriving,
            governed_by=Rule.EQUIPMENT.value,
            hold_phase=Phase.SOAK,
            hold_governed_by=limits.soak.rule.value,
        ),
        _cooling(body, limits.annealing, limits.hold_c, limits.strain_c, Phase.ANNEALING),
        _cooling(body, limits.passing, limits.strain_c, body.opening_c, Phase.COOLING),
    ]


def _cooling(body: Body, limit: Limit, from_c: float, to_c: float, phase: Phase) -> Segment:
    """Says "equipment" where the body by itself is slower than the limit all the way."""
    able = body.fastest_cooling_c_per_h(from_c, to_c)
    return Segment(
        rate_c_per_h=limit.rate_c_per_h,
        target_c=to_c,
        hold_min=0,
        phase=phase,
        governed_by=(Rule.EQUIPMENT if able <= limit.rate_c_per_h else limit.rule).value,
    )
