"""Curves of the thermal model laid onto the clock as phases, and read back as temperatures."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp

from scheduling.engine.records import PhaseSpan
from studios.thermal import Curve, Phase


def laid(curve: Curve, begin: int, *, until: int | None = None) -> tuple[PhaseSpan, ...]:
    """The pieces of a curve from minute `begin` on; every end is rounded up, nothing lies after `until`."""
    phases = (
        PhaseSpan(
            kind=piece.phase,
            span=(begin + since, begin + end),
            from_c=piece.from_c,
            to_c=piece.to_c,
            toward_c=piece.toward_c,
            tau_min=piece.tau_min,
        )
        for piece, (since, end) in zip(curve.pieces, curve.whole_spans, strict=True)
    )
    cut = (_cut(phase, until) if until is not None else phase for phase in phases)
    return tuple(phase for phase in cut if phase.span[0] < phase.span[1])


def _cut(phase: PhaseSpan, until: int) -> PhaseSpan:
    start, end = phase.span
    if end <= until or start >= until:
        return phase if end <= until else level(phase.kind, (start, start), phase.from_c)
    return PhaseSpan(
        kind=phase.kind,
        span=(start, until),
        from_c=phase.from_c,
        to_c=temperature(phase, until),
        toward_c=phase.toward_c,
        tau_min=phase.tau_min,
    )


def up_to(phases: Iterable[PhaseSpan], minute: int) -> tuple[PhaseSpan, ...]:
    """What lies before a minute; a phase that goes on beyond it ends there."""
    return tuple(
        phase for phase in (_cut(phase, minute) for phase in phases) if phase.span[0] < phase.span[1]
    )


def level(kind: Phase, span: tuple[int, int], at_c: float | None = None) -> PhaseSpan:
    """A phase at one temperature, or of something that is not heated."""
    return PhaseSpan(kind=kind, span=span, from_c=at_c, to_c=at_c)


def temperature(phase: PhaseSpan, minute: float) -> float | None:
    """The temperature within a phase: along its straight line, or towards its asymptote."""
    if phase.from_c is None or phase.to_c is None:
        return None
    start, end = phase.span
    if phase.toward_c is not None and phase.tau_min is not None:
        return phase.toward_c + (phase.from_c - phase.toward_c) * exp(-(minute - start) / phase.tau_min)
    return phase.from_c + (phase.to_c - phase.from_c) * (minute - start) / (end - start)


def temperature_at(phases: Iterable[PhaseSpan], minute: int) -> float | None:
    """The temperature at a minute, where one of the phases knows it."""
    for phase in phases:
        if phase.span[0] <= minute < phase.span[1]:
            return temperature(phase, minute)
    return None
