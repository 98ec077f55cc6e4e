"""What becomes of a firing that was asked for: one shape for a recipe and for a program of somebody's own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduling.management.firing.asked import Asked
from studios.thermal import (
    Curve,
    Lag,
    Phase,
    Piece,
    Recipe,
    Segment,
    SoakLine,
    StressLine,
    energy_kwh,
    examine_program,
    governing_piece,
    plan_firing,
)
from studios.thermal.energy import switching_min
from studios.thermal.errors import TooFewSegments
from studios.thermal.moments import TOUCH_C, touch_min
from studios.thermal.program import Leg, legs

Moment = tuple[str, float]
Point = tuple[float, float]  # minute from the start, °C
Way = tuple[Point, Point]


@dataclass(frozen=True, kw_only=True)
class Fired:
    """Minutes from the start. `hold_c` is where an annealer is held hot, where there is such a hold.

    `asked_ways` are the straight lines that the equipment cannot follow, each from where it falls behind.
    """

    asked: Asked
    what: str
    governing: Piece
    segments: tuple[Segment, ...]
    asked_ways: tuple[Way, ...]
    curve: Curve
    lags: tuple[Lag, ...]
    moments: tuple[Moment, ...]
    stress: tuple[StressLine, ...]
    soaks: tuple[SoakLine, ...]
    energy_kwh: float
    switching_min: float
    hold_c: float | None = None


def fire(asked: Asked) -> Fired:
    """Raises the errors of plan_firing and of examine_program."""
    return _examined(asked) if asked.recipe is None else _planned(asked, asked.recipe)


def _planned(asked: Asked, recipe: Recipe) -> Fired:
    plan = plan_firing(
        recipe=recipe,
        pieces=asked.pieces,
        body=asked.place.body,
        policy=asked.policy,
        start_c=asked.start_c,
        working_min=asked.working_min,
        most_segments=asked.place.controller_segments,
    )
    begins_min = plan.curve.duration_min - plan.tail.duration_min
    return Fired(
        asked=asked,
        what=recipe.value.replace("-", " "),
        governing=plan.governing,
        segments=plan.segments,
        asked_ways=tuple(_asked_ways((*plan.before, *plan.after))),
        curve=plan.curve,
        lags=plan.lags,
        moments=tuple(plan.moments().named()),
        stress=plan.stress,
        soaks=(),
        energy_kwh=plan.energy_kwh,
        switching_min=begins_min + plan.switching_min,
        hold_c=plan.hold_c if recipe is Recipe.ANNEAL else None,
    )


def _examined(asked: Asked) -> Fired:
    body, most = asked.place.body, asked.place.controller_segments
    if most is not None and len(asked.own) > most:
        raise TooFewSegments(field="segment", needed=len(asked.own), most=most)
    found = examine_program(
        segments=asked.own, pieces=asked.pieces, body=body, policy=asked.policy, start_c=asked.start_c
    )
    run = legs(body, body.ambient_c if asked.start_c is None else asked.start_c, asked.own)
    return Fired(
        asked=asked,
        what="a program of your own",
        governing=governing_piece(asked.pieces, body, asked.policy),
        segments=asked.own,
        asked_ways=tuple(_asked_ways(run)),
        curve=found.got,
        lags=found.lags,
        moments=tuple(_moments(asked, found.got)),
        stress=found.stress,
        soaks=found.soaks,
        energy_kwh=energy_kwh(found.got, body),
        switching_min=switching_min(run),
    )


def _asked_ways(run: Iterable[Leg]) -> Iterator[Way]:
    begins_min = 0.0
    for leg in run:
        if leg.departs_c is not None:
            way = leg.asked[0]
            parts_min = begins_min + way.minute_at(leg.departs_c)
            yield (parts_min, leg.departs_c), (begins_min + way.duration_min, way.to_c)
        begins_min += leg.got_min


def _moments(asked: Asked, curve: Curve) -> Iterator[Moment]:
    """The same moments as of a recipe; one without a soak has none to begin and to end."""
    soaks = [span for span in curve.phase_spans() if span.phase is Phase.SOAK]
    if soaks:
        yield "at hold", soaks[-1].starts_min
        yield "soak ends", soaks[-1].ends_min
    strain_c = min(piece.glass.strain_c for piece in asked.pieces)
    yield "below the strain point", curve.falls_to(strain_c)
    yield "may be opened", curve.falls_to(asked.place.body.opening_c)
    touched = touch_min(asked.place.body, curve, TOUCH_C)
    if touched is not None:
        yield "may be touched", touched
