"""What a studio permits: stresses, ceilings, floors. The defaults are common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from studios.thermal.errors import CeilingsOutOfOrder, require_range
from studios.thermal.glass import Glass
from studios.thermal.recipe import PROCESSES, Process, Recipe

Ceilings = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class Policy:
    """A studio's own limits. The formula knows an ideal slab; the ceilings know edges, layers and shelves.

    Ceilings are pairs (thickness mm, °C/h), thinnest first; None switches them off. The cooling ceilings hold
    through the annealing range. `fastest_heating_c_per_h` is for glass past its annealing point, no longer
    brittle, and caps all other heating of a kiln load.

    `second_stage`: for so many kelvin below the strain point cooling goes no faster than so many times the
    first rate, since some structure is still settling there (twice, over 50 K: the usual handbook schedule;
    Shand, from memory). `unannealed_share`: pieces that were never annealed carry stress of their own, so
    only this part of the passing stress is permitted when they are heated (common practice, no source).
    `processes` replaces the house temperatures of a recipe by the studio's own.
    """

    kept_mpa: float = 0.7
    passing_mpa: float = 7.0
    soak_floor_min_per_mm: float = 10.0
    heating_ceilings: Ceilings | None = ((6.0, 220.0), (12.0, 110.0))
    cooling_ceilings: Ceilings | None = ((6.0, 85.0), (12.0, 55.0))
    fastest_heating_c_per_h: float = 330.0
    sharing_tolerance_k: float = 5.0
    second_stage_k: float = 50.0
    second_stage_times: float = 2.0
    unannealed_share: float = 0.5
    processes: tuple[tuple[Recipe, Process], ...] = ()

    def __post_init__(self) -> None:
        require_range("kept_mpa", self.kept_mpa, 0.01, 100.0)
        require_range("passing_mpa", self.passing_mpa, 0.01, 100.0)
        require_range("soak_floor_min_per_mm", self.soak_floor_min_per_mm, 0.0, 1000.0)
        require_range("fastest_heating_c_per_h", self.fastest_heating_c_per_h, 1.0, 5000.0)
        require_range("sharing_tolerance_k", self.sharing_tolerance_k, 0.0, 50.0)
        require_range("second_stage_k", self.second_stage_k, 0.0, 300.0)
        require_range("second_stage_times", self.second_stage_times, 1.0, 100.0)
        require_range("unannealed_share", self.unannealed_share, 0.01, 1.0)
        _require_order("heating_ceilings", self.heating_ceilings)
        _require_order("cooling_ceilings", self.cooling_ceilings)

    def process(self, recipe: Recipe) -> Process:
        """The studio's own temperatures for a recipe, else the house's."""
        return dict(self.processes).get(recipe, PROCESSES[recipe])


def _require_order(field: str, ceilings: Ceilings | None) -> None:
    if ceilings is None:
        return
    positive = bool(ceilings) and all(thickness > 0 and rate > 0 for thickness, rate in ceilings)
    falling = all(thin[0] < thick[0] and thin[1] >= thick[1] for thin, thick in pairwise(ceilings))
    if not (positive and falling):
        raise CeilingsOutOfOrder(field=field)


def ceiling_c_per_h(ceilings: Ceilings | None, thickness_mm: float) -> float | None:
    """The studio's fastest rate for a thickness: linear in 1/d between two entries, as 1/d beyond them."""
    if ceilings is None:
        return None
    thinnest, thickest = ceilings[0], ceilings[-1]
    if thickness_mm <= thinnest[0]:
        return thinnest[1] * thinnest[0] / thickness_mm
    if thickness_mm >= thickest[0]:
        return thickest[1] * thickest[0] / thickness_mm
    thin, thick = next(pair for pair in pairwise(ceilings) if pair[0][0] <= thickness_mm <= pair[1][0])
    share = (1 / thickness_mm - 1 / thick[0]) / (1 / thin[0] - 1 / thick[0])
    return thick[1] + share * (thin[1] - thick[1])


def compatible(a: Glass, b: Glass, policy: Policy | None = None) -> bool:
    """Pieces may share a firing when their annealing points agree within the studio's tolerance."""
    permitted = (policy or DEFAULT_POLICY).sharing_tolerance_k
    return abs(a.annealing_c - b.annealing_c) <= permitted


DEFAULT_POLICY = Policy()
