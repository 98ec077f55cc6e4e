"""A piece of glass as the heat sees it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from studios.thermal.errors import AbsurdThickness, MixedExpansion, OnlyVesselsHaveAFoot
from studios.thermal.glass import Glass
from studios.thermal.stress import CYLINDER, SLAB, SPHERE, Form, mismatch_stress_pa

THINNEST_MM = 0.1
THICKEST_MM = 300.0
# Expansions are quoted to a whole 1e-7; anything a person would type as another number is another glass.
SAME_EXPANSION_PER_K = 0.05e-7
M_PER_MM = 1e-3


class Shape(StrEnum):
    """How a piece gives off its heat. The thickness of a cylinder, sphere or bead is its diameter."""

    PLATE_ON_SHELF = "plate-on-shelf"
    PLATE_FREE = "plate-free"
    VESSEL = "vessel"  # closed hollow form: its wall cools from the outside only
    CYLINDER = "cylinder"
    SPHERE = "sphere"
    BEAD = "bead"


ONE_FACED = frozenset({Shape.PLATE_ON_SHELF, Shape.VESSEL})

# A bead may be round, barrel or tube: the long cylinder is the most demanding of them.
FORMS = {
    Shape.PLATE_ON_SHELF: SLAB,
    Shape.PLATE_FREE: SLAB,
    Shape.VESSEL: SLAB,
    Shape.CYLINDER: CYLINDER,
    Shape.SPHERE: SPHERE,
    Shape.BEAD: CYLINDER,
}


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One piece of a load. `fused_with` names the other glasses in the same piece.

    The thickness of a vessel is that of its wall; `foot_mm` is its foot, a disc that stands on the shelf and
    cools from one face. The thicker of the two decides. Glasses whose expansions differ are never fused in
    one piece. Raises AbsurdThickness, OnlyVesselsHaveAFoot or MixedExpansion.
    """

    glass: Glass
    shape: Shape
    thickness_mm: float
    foot_mm: float | None = None
    fused_with: tuple[Glass, ...] = ()

    def __post_init__(self) -> None:
        _require_thickness("thickness_mm", self.thickness_mm)
        if self.foot_mm is not None:
            _require_thickness("foot_mm", self.foot_mm)
            if self.shape is not Shape.VESSEL:
                raise OnlyVesselsHaveAFoot(field="foot_mm", shape=self.shape.value.replace("-", " "))
        for other in self.fused_with:
            _require_same_expansion(self.glass, other)

    @property
    def thickest_mm(self) -> float:
        """The wall or the foot: what takes longest to follow."""
        return self.thickness_mm if self.foot_mm is None else max(self.thickness_mm, self.foot_mm)

    @property
    def half_or_full_path_m(self) -> float:
        """L: the whole thickness where one face cools, half of it where all sides do."""
        faces = 1 if self.shape in ONE_FACED else 2
        return self.thickest_mm * M_PER_MM / faces

    @property
    def form(self) -> Form:
        return FORMS[self.shape]


def _require_thickness(field: str, value_mm: float) -> None:
    if not (math.isfinite(value_mm) and THINNEST_MM <= value_mm <= THICKEST_MM):
        raise AbsurdThickness(field=field, value=value_mm, low=THINNEST_MM, high=THICKEST_MM)


def _require_same_expansion(first: Glass, second: Glass) -> None:
    if abs(first.expansion_per_k - second.expansion_per_k) > SAME_EXPANSION_PER_K:
        raise MixedExpansion(
            field="fused_with",
            first=first.name,
            first_per_k=first.expansion_per_k,
            second=second.name,
            second_per_k=second.expansion_per_k,
            stress_mpa=mismatch_stress_pa(first, second) / 1e6,
        )
