"""The programs a studio fires. Temperatures and holds are common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from studios.thermal.glass import Glass


class Recipe(StrEnum):
    ANNEAL = "anneal"
    FULL_FUSE = "full-fuse"
    TACK_FUSE = "tack-fuse"
    SLUMP = "slump"


def softens(glass: Glass) -> float:
    """Layers join only above the softening point."""
    return glass.softening_c


def sags(glass: Glass) -> float:
    """A sheet sinks into a mould from about half way between annealing and softening point."""
    return (glass.annealing_c + glass.softening_c) / 2


@dataclass(frozen=True, kw_only=True)
class Process:
    """What the kiln does above the annealing range.

    `squeeze_c`, where there is one, is held first so that air leaves between the layers (the bubble squeeze).
    `needs_c` tells how hot a glass must get for the program to do anything.
    """

    process_c: float
    hold_min: float
    needs_c: Callable[[Glass], float]
    squeeze_c: float | None = None
    squeeze_min: float = 0.0


# Slump 620-680, tack fuse 730-760, full fuse 790-816 °C: common practice.
PROCESSES = {
    Recipe.FULL_FUSE: Process(
        process_c=800.0, hold_min=10.0, needs_c=softens, squeeze_c=650.0, squeeze_min=30.0
    ),
    Recipe.TACK_FUSE: Process(process_c=745.0, hold_min=10.0, needs_c=softens),
    Recipe.SLUMP: Process(process_c=650.0, hold_min=10.0, needs_c=sags),
}
