"""A firing program as a kiln controller takes it, and the curve a body makes of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil, inf

from studios.thermal.body import Body
from studios.thermal.curve import Curve, CurvePiece, end_to_end
from studios.thermal.errors import EmptyProgram, NoCoolingStage, require_range
from studios.thermal.limits import Limit, LoadLimits, Rule
from studios.thermal.motion import falling, keeping, line, warming
from studios.thermal.phases import Phase
from studios.thermal.recipe import Process
from studios.thermal.units import keyed_rate

# °C/h: a block of 300 mm is cooled at a tenth of a degree in an hour, and no controller takes five figures.
SLOWEST_KEYED, FASTEST_KEYED = 0.01, 9999.0


@dataclass(frozen=True, kw_only=True)
class Segment:
    """Go to a target at a rate (None: as fast as the body goes), then hold.

    `phase` is that of the way there, `hold_phase` that of the hold; beside each stands what governed it.
    One that is not `keyed` is not entered: the program has ended, the heat is off, the body cools by itself.
    """

    rate_c_per_h: float | None
    target_c: float
    hold_min: float
    phase: Phase
    governed_by: str
    hold_phase: Phase = Phase.HOLDING
    hold_governed_by: str = ""
    keyed: bool = True


@dataclass(frozen=True, kw_only=True)
class Leg:
    """One segment as it was asked and as the body does it, each in minutes from where the segment begins.

    `asked` is the straight line of the program. The two differ where the equipment cannot follow.
    """

    segment: Segment
    asked: tuple[CurvePiece, ...]
    got: tuple[CurvePiece, ...]

    @cached_property
    def asked_min(self) -> float:
        return sum(piece.duration_min for piece in self.asked)

    @cached_property
    def got_min(self) -> float:
        return sum(piece.duration_min for piece in self.got)

    @property
    def departs_c(self) -> float | None:
        """Where the body begins to fall behind, if it does; with the heat off nothing is asked of it."""
        if self.segment.rate_c_per_h is None or not self.segment.keyed:
            return None
        return next((piece.from_c for piece in self.got if piece.toward_c is not None), None)


@dataclass(frozen=True, kw_only=True)
class Lag:
    """Where the equipment cannot follow: from a temperature on it comes so many minutes late."""

    departs_c: float
    target_c: float
    late_min: float
    phase: Phase


def legs(body: Body, start_c: float, segments: Iterable[Segment]) -> tuple[Leg, ...]:
    """Each segment asked and got; a body that is late at a target begins the next one late."""
    return tuple(_legs(body, start_c, segments))


def _legs(body: Body, start_c: float, segments: Iterable[Segment]) -> Iterator[Leg]:
    at_c = start_c
    for segment in segments:
        got = tuple(_way(body, at_c, segment))
        hold = _hold(segment)
        yield Leg(segment=segment, asked=(*_asked(at_c, segment, got), *hold), got=(*got, *hold))
        at_c = segment.target_c


def _way(body: Body, at_c: float, segment: Segment) -> Iterator[CurvePiece]:
    if segment.target_c == at_c:
        return
    move = warming if segment.target_c > at_c else falling
    yield from move(
        body, from_c=at_c, to_c=segment.target_c, rate_c_per_h=segment.rate_c_per_h, phase=segment.phase
    )


def _asked(at_c: float, segment: Segment, got: tuple[CurvePiece, ...]) -> tuple[CurvePiece, ...]:
    """The straight line; what the body does where no rate is asked, the heat is off or it is there."""
    if segment.rate_c_per_h is None or not segment.keyed or not got:
        return got
    return (line(at_c, segment.target_c, segment.rate_c_per_h, segment.phase),)


def _hold(segment: Segment) -> tuple[CurvePiece, ...]:
    if segment.hold_min <= 0:
        return ()
    return (keeping(at_c=segment.target_c, minutes=segment.hold_min, phase=segment.hold_phase),)


def asked(run: Iterable[Leg]) -> Curve:
    """The program as it was asked."""
    return end_to_end(piece for leg in run for piece in leg.asked)


BENDS = 8


def points(curve: Curve) -> tuple[tuple[float, float], ...]:
    """A curve as (minute, °C) to join by straight lines; an exponential is bent in a few places."""
    found: list[tuple[float, float]] = []
    for piece in curve.pieces:
        parts = 1 if piece.toward_c is None else BENDS
        steps = (piece.starts_min + piece.duration_min * n / parts for n in range(parts))
        found.extend((minute, piece.temperature_at(minute)) for minute in steps)
    if curve.pieces:
        found.append((curve.duration_min, curve.pieces[-1].to_c))
    return tuple(found)


def got(run: Iterable[Leg]) -> Curve:
    """What the body makes of it: each segment the slower of what is asked and what the body can."""
    return end_to_end(piece for leg in run for piece in leg.got)


def follow(body: Body, start_c: float, segments: Iterable[Segment]) -> Curve:
    """The curve of a program in a body."""
    return got(_legs(body, start_c, segments))


def lags(run: Iterable[Leg]) -> tuple[Lag, ...]:
    """Where the equipment cannot follow, in order."""
    return tuple(
        Lag(
            departs_c=leg.departs_c,
            target_c=leg.segment.target_c,
            late_min=leg.got_min - leg.asked_min,
            phase=leg.segment.phase,
        )
        for leg in run
        if leg.departs_c is not None
    )


def require_program(segments: Sequence[Segment], start_c: float, strain_c: float) -> None:
    """A program somebody wrote: its numbers make sense, and it brings the glass below its strain point.

    Raises EmptyProgram, OutOfRange or NoCoolingStage.
    """
    if not segments:
        raise EmptyProgram(field="segments")
    for number, segment in enumerate(segments, start=1):
        if segment.rate_c_per_h is not None:
            require_range(
                f"segments[{number}].rate_c_per_h", segment.rate_c_per_h, SLOWEST_KEYED, FASTEST_KEYED
            )
        require_range(f"segments[{number}].target_c", segment.target_c, 0.0, 1800.0)
        require_range(f"segments[{number}].hold_min", segment.hold_min, 0.0, 60000.0)
    hottest_c = max(start_c, *(segment.target_c for segment in segments))
    if segments[-1].target_c > strain_c and hottest_c > strain_c:
        raise NoCoolingStage(field="segments", ends_c=segments[-1].target_c, strain_c=strain_c)


def to_hold(body: Body, limits: LoadLimits, start_c: float, working_min: float) -> Segment:
    """An empty annealer comes to its hold as fast as it may, ready for the first piece, and stays."""
    falls = start_c > limits.hold_c
    ramp = body.ramp_limit_c_per_h
    return Segment(
        rate_c_per_h=None if falls or ramp is None else _keyed(ramp),
        target_c=limits.hold_c,
        hold_min=working_min,
        phase=Phase.COOLING if falls else Phase.HEAT_UP,
        governed_by=Rule.EQUIPMENT.value,
        hold_governed_by=Rule.WORKING_HOURS.value if working_min else "",
    )


def heat_and_process(body: Body, limits: LoadLimits, process: Process, start_c: float) -> list[Segment]:
    """From cold through the squeeze, where the program has one, to the process temperature and its hold."""
    stops = [(process.squeeze_c, process.squeeze_min)] if process.squeeze_c is not None else []
    stops.append((process.process_c, process.hold_min))
    segments: list[Segment] = []
    at_c = start_c
    for target_c, hold_min in stops:
        segments += heat_to(body, limits, from_c=at_c, to_c=target_c, hold_min=hold_min)
        at_c = target_c
    return segments


def heat_to(body: Body, limits: LoadLimits, *, from_c: float, to_c: float, hold_min: float) -> list[Segment]:
    """Brittle glass at its own limit; past its annealing point at the studio's ramp for hot glass."""
    brittle_until_c = min(float(ceil(limits.brittle_until_c)), to_c)
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
        rate_c_per_h=_keyed(body.capped_ramp_c_per_h(limit.rate_c_per_h)),
        target_c=to_c,
        hold_min=hold_min,
        phase=Phase.HEAT_UP,
        governed_by=(Rule.EQUIPMENT if able <= limit.rate_c_per_h else limit.rule).value,
        hold_governed_by=Rule.RECIPE.value if hold_min else "",
    )


def _keyed(rate_c_per_h: float) -> float:
    """What is keyed in, and so what the hours go by: rounded down, unless nothing would be left."""
    return keyed_rate(rate_c_per_h) or rate_c_per_h


def soak_and_cool(body: Body, limits: LoadLimits, arriving: Phase) -> list[Segment]:
    """Come to the hold temperature by the body's own cooling, soak, then three stages to the open door.

    `arriving` is the phase of the way to the hold: cooling after a kiln program, the soak itself where the
    equipment holds already.
    """
    soak = Segment(
        rate_c_per_h=None,
        target_c=limits.hold_c,
        hold_min=limits.soak.minutes,
        phase=arriving,
        governed_by=Rule.EQUIPMENT.value,
        hold_phase=Phase.SOAK,
        hold_governed_by=limits.soak.rule.value,
    )
    return [soak, *_three_stages(body, limits)]


def heat_and_soak(body: Body, limits: LoadLimits, start_c: float) -> list[Segment]:
    """From cold straight to the soak: the way there and the soak are one segment, as anybody keys it in."""
    *gently, last = heat_to(body, limits, from_c=start_c, to_c=limits.hold_c, hold_min=0)
    soak, *cooling = soak_and_cool(body, limits, Phase.SOAK)
    soaking = replace(
        last, hold_min=soak.hold_min, hold_phase=soak.hold_phase, hold_governed_by=soak.hold_governed_by
    )
    return [*gently, soaking, *cooling]


def _three_stages(body: Body, limits: LoadLimits) -> Iterator[Segment]:
    """Through the annealing range, just below the strain point, and the rest of the way to the door."""
    stages = (
        (limits.annealing, limits.strain_c, Phase.ANNEALING),
        (limits.second, limits.second_until_c, Phase.COOLING),
        (limits.passing, -inf, Phase.COOLING),
    )
    at_c = limits.hold_c
    for limit, to_c, phase in stages:
        target_c = max(to_c, body.opening_c)
        if target_c < at_c:
            yield _cooling(body, limit, at_c, target_c, phase)
            at_c = target_c


def _cooling(body: Body, limit: Limit, from_c: float, to_c: float, phase: Phase) -> Segment:
    """Says "equipment" where the body by itself is slower than the limit all the way.

    No rate is asked there where the limit is faster than anybody can key in.
    """
    rate_c_per_h = _keyed(limit.rate_c_per_h)
    by_itself = body.fastest_cooling_c_per_h(from_c, to_c) <= rate_c_per_h
    return Segment(
        rate_c_per_h=None if by_itself and rate_c_per_h > FASTEST_KEYED else rate_c_per_h,
        target_c=to_c,
        hold_min=0,
        phase=phase,
        governed_by=(Rule.EQUIPMENT if by_itself else limit.rule).value,
    )
