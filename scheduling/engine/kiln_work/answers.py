"""The answer to kiln work: loads, nights, handwork and what it costs; or why there is none.

An answer is kept as JSON until it is booked (`as_json`, `from_json`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.spans import Span
from studios.thermal import Recipe


@dataclass(frozen=True, kw_only=True)
class StandPlanned:
    """Where a piece stands: its shelf (from below, from 1), its left front corner, its size as it stands."""

    piece: int
    level: int
    x_mm: int
    y_mm: int
    length_mm: int
    width_mm: int
    round: bool


@dataclass(frozen=True, kw_only=True)
class LoadPlanned:
    """One firing: in which kiln, from when loading begins until it is unloaded, and what stands where.

    `step` counts the firings of the route from 1. `fill`: how much of what lies within
    the margin of each shelf is covered.
    """

    key: str
    step: int
    recipe: Recipe
    kiln_id: int
    studio_id: int
    begins: int
    closed: int
    cool: int
    unload: int
    done: int
    stands: tuple[StandPlanned, ...]
    fill: tuple[float, ...]
    footprint_cm2: int
    energy_kwh: float
    cost: float


@dataclass(frozen=True, kw_only=True)
class HandworkPlanned:
    """Handwork for a load, before it or (cold work) after it; at the cold station, or where there is room.

    `of` are the pieces, as they were asked for, that are worked cold. What has been out of the kiln before
    the plan began is worked for no load of it.
    """

    does: Handwork
    studio_id: int
    station_id: int | None
    span: Span
    load: str
    pieces: int
    of: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class WorkPlanned:
    """Loads over several nights. `ready`: the last piece can be handed back; no plan is ready before `bound`.

    `proven`: the earliest was asked for, and none is earlier.

    `shelves` are those laid out in all, `shelves_bound` how many it takes at least, by `bound_by`. `visits`
    are the times at which somebody has to be there. `cost_of` is each piece's part, by its area.
    """

    loads: tuple[LoadPlanned, ...]
    handwork: tuple[HandworkPlanned, ...]
    ready: int
    bound: int
    proven: bool
    shelves: int
    shelves_bound: int
    bound_by: str
    visits: tuple[Span, ...]
    cost: float
    cost_of: tuple[float, ...]

    @property
    def ready_at(self) -> dict[int, int]:
        """For each studio when the last piece can be handed back there."""
        ends = [(load.studio_id, load.done) for load in self.loads]
        ends += [(work.studio_id, work.span[1]) for work in self.handwork]
        return dict(sorted(ends))


@dataclass(frozen=True, kw_only=True)
class WorkRefused:
    """Why there is no plan: a code, a sentence to act on, and when the earliest would be ready, if known."""

    code: str
    sentence: str
    earliest: int | None = None


def as_json(plan: WorkPlanned) -> dict[str, Any]:
    """An answer as it is kept."""
    return asdict(plan)


def from_json(kept: Mapping[str, Any]) -> WorkPlanned:
    """An answer as it was kept."""
    loads = tuple(_load(each) for each in kept["loads"])
    handwork = tuple(_work(each) for each in kept["handwork"])
    visits = tuple((begin, end) for begin, end in kept["visits"])
    whole = {"loads": loads, "handwork": handwork, "visits": visits, "cost_of": tuple(kept["cost_of"])}
    return WorkPlanned(**{**kept, **whole})


def _work(kept: Mapping[str, Any]) -> HandworkPlanned:
    own = {"does": Handwork(kept["does"]), "span": tuple(kept["span"]), "of": tuple(kept.get("of", ()))}
    return HandworkPlanned(**{**kept, **own})


def _load(kept: Mapping[str, Any]) -> LoadPlanned:
    stands = tuple(StandPlanned(**each) for each in kept["stands"])
    return LoadPlanned(
        **{**kept, "recipe": Recipe(kept["recipe"]), "stands": stands, "fill": tuple(kept["fill"])}
    )
