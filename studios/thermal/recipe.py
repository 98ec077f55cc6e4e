"""The programs a studio fires. Temperatures and holds are common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from studios.thermal.errors import SqueezeTooHot, require_range
from studios.thermal.glass import Glass


class Recipe(StrEnum):
    """What a kiln or annealer is fired for.

    `anneal`: pieces put away hot; with working hours given it is the warm-up and hold of a garage annealer.
    `batch-anneal`: small work first cooled in a blanket, annealed from cold.
    """

    ANNEAL = "anneal"
    BATCH_ANNEAL = "batch-anneal"
    FULL_FUSE = "full-fuse"
    TACK_FUSE = "tack-fuse"
    SLUMP = "slump"
    FIRE_POLISH = "fire-polish"
    KILN_CAST = "kiln-cast"


@dataclass(frozen=True, kw_only=True)
class Process:
    """What the kiln does above the annealing range.

    `squeeze_c`, where there is one, is held first so that air leaves between the layers (the bubble squeeze).
    Raises OutOfRange or SqueezeTooHot.
    """

    process_c: float
    hold_min: float
    squeeze_c: float | None = None
    squeeze_min: float = 0.0

    def __post_init__(self) -> None:
        require_range("process_c", self.process_c, 300.0, 1800.0)
        require_range("hold_min", self.hold_min, 0.0, 6000.0)
        require_range("squeeze_min", self.squeeze_min, 0.0, 6000.0)
        if self.squeeze_c is not None and not 300.0 <= self.squeeze_c < self.process_c:
            raise SqueezeTooHot(field="squeeze_c", squeeze_c=self.squeeze_c, process_c=self.process_c)


# Slump 620-680, tack fuse 730-760, full fuse 790-816 °C: common practice. So are 680 °C for enamel paint on a
# fused blank, and 830 °C with two hours for casting into an open mould. A studio may set its own.
PROCESSES = {
    Recipe.FULL_FUSE: Process(process_c=800.0, hold_min=10.0, squeeze_c=650.0, squeeze_min=30.0),
    Recipe.TACK_FUSE: Process(process_c=745.0, hold_min=10.0, squeeze_c=650.0, squeeze_min=30.0),
    Recipe.SLUMP: Process(process_c=650.0, hold_min=10.0),
    Recipe.FIRE_POLISH: Process(process_c=680.0, hold_min=10.0),
    Recipe.KILN_CAST: Process(process_c=830.0, hold_min=120.0, squeeze_c=675.0, squeeze_min=60.0),
}


def softens(glass: Glass) -> float:
    """Layers join only above the softening point."""
    return glass.softening_c


def sags(glass: Glass) -> float:
    """A sheet sinks into a mould, and paint sinks in, from about half way between annealing and softening."""
    return (glass.annealing_c + glass.softening_c) / 2


# How hot a glass must get for the program to do anything.
NEEDS: dict[Recipe, Callable[[Glass], float]] = {
    Recipe.FULL_FUSE: softens,
    Recipe.TACK_FUSE: softens,
    Recipe.SLUMP: sags,
    Recipe.FIRE_POLISH: sags,
    Recipe.KILN_CAST: softens,
}
