"""What was recorded of a firing, lettered, so that a mark on the curve and a line of words are one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scheduling.engine.clock import floor_minutes
from scheduling.engine.curves import temperature
from scheduling.engine.records import PhaseSpan
from scheduling.models import Actual

LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One record that counts: its letter, when, and how hot it was, as read or as worked out."""

    letter: str
    actual: Actual
    minute: int
    at_c: float | None


def marks_of(actuals: Iterable[Actual], phases: Iterable[PhaseSpan]) -> list[Mark]:
    """Those that are not struck, in the order in which they happened."""
    known = tuple(phases)
    counting = [actual for actual in actuals if actual.struck_at is None]
    return [_mark(number, actual, known) for number, actual in enumerate(counting)]


def _mark(number: int, actual: Actual, phases: Iterable[PhaseSpan]) -> Mark:
    minute = floor_minutes(actual.at)
    within = (phase for phase in phases if phase.span[0] <= minute <= phase.span[1])
    computed = next((found for phase in within if (found := temperature(phase, minute)) is not None), None)
    turn, place = divmod(number, len(LETTERS))
    return Mark(
        letter=LETTERS[place] + (str(turn + 1) if turn else ""),
        actual=actual,
        minute=minute,
        at_c=computed if actual.read_c is None else actual.read_c,
    )
