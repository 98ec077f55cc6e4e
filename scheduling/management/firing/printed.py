"""A firing as lines on the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from scheduling.management.firing.asked import Asked
from scheduling.management.firing.fired import Fired
from scheduling.management.firing.units import Scale, clock, length
from scheduling.management.wording import table
from studios.thermal import Glass, Piece, Segment, StressLine, holding_kwh
from studios.thermal.moments import TOUCH_C
from studios.thermal.viscosity import SOFTENING, WORKING

DAY_MIN = 24 * 60.0
BIAS = (
    "The classical figure is about 60 % of what real sheet keeps (Gardon & Narayanaswamy, J. Am. Ceram. Soc. "
    "53 (1970) 380): reckon with the likely one."
)
CAUTIONS = (
    "Cautions: most kiln fires start at night, so keep clearances and an over-temperature cut-out (HSE, Safe "
    "use of kilns in schools and craft studios); wiring to NFPA 70 or your own code; exhaust at the kiln "
    "(ACGIH, Industrial Ventilation). Local codes, the makers' instructions and licensed practice decide. "
    "Lehrbook advises; it controls no kiln."
)
WIDTH = 100


def lines(fired: Fired, price_per_kwh: float | None) -> Iterator[str]:
    """Blocks with a heading each, an empty line between them."""
    yield from _heading(fired)
    blocks = (
        ("Segments to key in", _segments(fired)),
        ("Hours and minutes from the start", _moments(fired)),
        ("Where the equipment cannot follow", _lags(fired)),
        ("Energy and draw", _energy(fired, price_per_kwh)),
        ("Stress (MPa)", _stress(fired)),
        ("Working range", [_working_range(fired.governing.glass, fired.asked.scale)]),
    )
    for heading, block in blocks:
        yield from ("", heading, *(f"  {line}" for line in block))
    yield from ("", *wrap(CAUTIONS, WIDTH))


def named(piece: Piece) -> str:
    foot = f", foot {length(piece.foot_mm)}" if piece.foot_mm is not None else ""
    return f"{piece.glass.name}, {piece.shape.value.replace('-', ' ')}, {length(piece.thickness_mm)}{foot}"


def _heading(fired: Fired) -> Iterator[str]:
    asked, scale, glass = fired.asked, fired.asked.scale, fired.governing.glass
    yield f"{fired.what.capitalize()}: {'; '.join(named(piece) for piece in asked.pieces)}"
    yield f"In {asked.place.name}: {_body(asked)}"
    points = f"anneals at {scale.degrees(glass.annealing_c)}, strain point {scale.degrees(glass.strain_c)}"
    yield f"Governing piece: {named(fired.governing)}; {points}"


def _body(asked: Asked) -> str:
    body, scale = asked.place.body, asked.scale
    low = (
        f" (below {scale.degrees(body.split_c)}: {body.tau_low_h:g} h)" if body.tau_low_h is not None else ""
    )
    return (
        f"τ {body.tau_h:g} h{low}, ceiling {scale.degrees(body.ceiling_c)}, {body.power_kw:g} kW, "
        f"ambient {scale.degrees(body.ambient_c)}, door {scale.degrees(body.opening_c)}"
    )


def _segments(fired: Fired) -> Iterator[str]:
    scale, most = fired.asked.scale, fired.asked.place.controller_segments
    keyed = [segment for segment in fired.segments if segment.keyed]
    rows: list[Sequence[str]] = [("", "rate", "to", "hold", "rate set by", "hold set by")]
    rows += [_row(number, segment, scale) for number, segment in enumerate(keyed, start=1)]
    yield from table(rows)
    rest = [segment for segment in fired.segments if not segment.keyed]
    ends_c = fired.curve.temperature_at(fired.curve.duration_min)
    if rest or ends_c < keyed[-1].target_c:
        within = ", no faster than permitted" if rest else ""
        yield f"then heat off: it cools by itself to {scale.degrees(ends_c)}{within}"
    if most is not None:
        yield f"The controller takes {most} segments."


def _row(number: int, segment: Segment, scale: Scale) -> Sequence[str]:
    rate = "as it goes" if segment.rate_c_per_h is None else scale.rate(segment.rate_c_per_h)
    hold = clock(segment.hold_min) if segment.hold_min else "-"
    target = scale.degrees(segment.target_c)
    return (str(number), rate, target, hold, segment.governed_by, segment.hold_governed_by)


def _moments(fired: Fired) -> Iterator[str]:
    asked, end_min = fired.asked, fired.curve.duration_min
    yield from table(
        [
            (name, clock(minute), asked.scale.degrees(fired.curve.temperature_at(minute)))
            if minute <= end_min
            else (name, clock(minute), f"{asked.scale.degrees(TOUCH_C)}, with the door kept shut")
            for name, minute in fired.moments
        ]
    )
    if fired.hold_c is not None and not asked.working_min:
        yield "The hours of work between the first piece and the last are to be added (--working-h)."


def _lags(fired: Fired) -> Iterator[str]:
    scale = fired.asked.scale
    for lag in fired.lags:
        yield (
            f"{lag.phase.value}: from {scale.degrees(lag.departs_c)} on the way to "
            f"{scale.degrees(lag.target_c)}, {clock(lag.late_min)} late"
        )
    if not fired.lags:
        yield "nowhere"


def _energy(fired: Fired, price_per_kwh: float | None) -> Iterator[str]:
    place = fired.asked.place
    yield f"{_priced(fired.energy_kwh, price_per_kwh)} from the start to the open door"
    if fired.hold_c is not None:
        daily_kwh = holding_kwh(place.body, fired.hold_c, DAY_MIN)
        held = fired.asked.scale.degrees(fired.hold_c)
        yield f"{_priced(daily_kwh, price_per_kwh)} for each day that it is held at {held}"
    what = "the burner" if place.by_gas else "the heat"
    until, draws = clock(fired.switching_min), ", ".join(place.draws)
    yield f"The controller may switch {what} on until {until}: until then reckon with {draws}"


def _priced(kwh: float, price_per_kwh: float | None) -> str:
    return f"{kwh:.1f} kWh" + ("" if price_per_kwh is None else f" ({kwh * price_per_kwh:.2f})")


def _stress(fired: Fired) -> Iterator[str]:
    several = len(fired.asked.pieces) > 1
    head: Sequence[str] = ("", "fastest", "classical", "likely", "permitted", "")
    yield from table([head, *(_stressed(line, fired.asked.scale, several=several) for line in fired.stress)])
    for soak in fired.soaks:
        verdict = "" if soak.within else ": TOO SHORT"
        which = f"{named(soak.piece)}: " if several else ""
        yield f"{which}soak held {clock(soak.held_min)}, needed {clock(soak.needed_min)}{verdict}"
    yield from wrap(BIAS, WIDTH)


def _stressed(line: StressLine, scale: Scale, *, several: bool) -> Sequence[str]:
    return (
        f"{named(line.piece)}: {line.what.value}" if several else line.what.value,
        scale.rate(line.rate_c_per_h) if line.rate_c_per_h else "never",
        f"{line.classical_mpa:.2f}",
        f"{line.likely_mpa:.2f}",
        f"{line.permitted_mpa:.2f}",
        _verdict(line),
    )


def _verdict(line: StressLine) -> str:
    if not line.within:
        return "TOO MUCH"
    return "" if line.likely_mpa <= line.permitted_mpa else "within by the classical figure only"


def _working_range(glass: Glass, scale: Scale) -> str:
    """Between working and softening point (ISO 7884-1), where three isokoms are known."""
    if glass.viscosity is None:
        return f"not known: no working point is stored for {glass.name}"
    high, low = (scale.degrees(glass.viscosity.temperature_c(log)) for log in (WORKING, SOFTENING))
    return f"{high} at 10^4 dPa·s down to {low} at 10^7.6 dPa·s"
