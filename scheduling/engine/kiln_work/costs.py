"""What a firing costs, and each piece's part of it, by its area."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduling.engine.kiln_work.answers import LoadPlanned
from scheduling.engine.kiln_work.asked import KilnShelves, PieceAsked


def firing_cost(kiln: KilnShelves, *, energy_kwh: float, shelves: int, minutes: int) -> float:
    """Energy, wash for the shelves that are laid, and its hours from the beginning of loading to unloaded.

    What nobody has set a price for costs nothing.
    """
    energy = energy_kwh * (kiln.kwh_price or 0.0)
    hours = minutes / 60 * (kiln.hour_price or 0.0)
    return energy + shelves * (kiln.shelf_wash_price or 0.0) + hours


def parts(loads: Iterable[LoadPlanned], pieces: Sequence[PieceAsked]) -> tuple[float, ...]:
    """What each piece bears of all its firings: of each as much as its area is of all that is in it."""
    borne = [0.0] * len(pieces)
    for load in loads:
        area = sum(pieces[stand.piece].footprint.area_mm2 for stand in load.stands)
        for stand in load.stands:
            borne[stand.piece] += load.cost * pieces[stand.piece].footprint.area_mm2 / area
    return tuple(borne)
