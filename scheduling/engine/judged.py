"""One choice of stations and firings, judged by what supplies carry, stores hold and rooms take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from scheduling.engine.heat import relit
from scheduling.engine.patience import settled
from scheduling.engine.records import Ask, FiringHeld, Held, Reason
from scheduling.engine.rooms import crowded
from scheduling.engine.spans import Span
from scheduling.engine.stations import Bundle
from scheduling.engine.stores import Stocked, stocked
from scheduling.engine.supplies import short
from scheduling.engine.world import World


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Stations at a start, firings as `asked` and after their waits, and what is `lacking` for them.

    `kept` are the hot stations that are kept hot before the class, `kept_after` the occupancies that
    follow it and stay hot.
    """

    core: Span
    bundles: tuple[Bundle, ...]
    asked: tuple[FiringHeld, ...]
    firings: tuple[FiringHeld, ...]
    lacking: tuple[Reason, ...]
    stock: Stocked
    kept: frozenset[int] = frozenset()
    kept_after: frozenset[int] = frozenset()

    @cached_property
    def held(self) -> tuple[Held, ...]:
        """What its stations hold."""
        return tuple(part for bundle in self.bundles for part in bundle.held)


def judged(
    world: World,
    ask: Ask,
    start: int,
    bundles: tuple[Bundle, ...],
    firings: tuple[FiringHeld, ...],
    *,
    kept: frozenset[int] = frozenset(),
    kept_after: frozenset[int] = frozenset(),
) -> Plan:
    """What would not be carried or last: a kiln waits for it where it may, and what follows is lit later."""
    held = [part for bundle in bundles for part in bundle.held]
    studio, core = world.studios[ask.studio_id], (start, start + ask.teach_min)
    later, relit_draws = relit(world, held, core, kept_after)
    replaced = _replaced(world, firings) | later
    own = [draw for part in held for draw in part.draws]
    kilns = settled(world, start, firings, [*own, *relit_draws], replaced)
    asked = [*own, *(draw for firing in kilns.firings for draw in firing.held.draws)]
    stock = stocked(world, studio, [*asked, *relit_draws], held, replaced, core)
    lacking = short(world, studio, asked, start, replaced=replaced, relit=relit_draws)
    full = crowded(world, ask, start, held)
    return Plan(
        core=core,
        bundles=bundles,
        asked=firings,
        firings=kilns.firings,
        lacking=(*kilns.refused(lacking), *full, *stock.reasons),
        stock=stock,
        kept=kept,
        kept_after=kept_after,
    )


def _replaced(world: World, firings: Sequence[FiringHeld]) -> frozenset[int]:
    """The occupancies of joined firings: their draws are part of the joined firing's own."""
    joined = {firing.joins for firing in firings if firing.joins is not None}
    return frozenset(
        taken.occupancy_id
        for firing in firings
        for taken in world.claims(firing.held.apparatus_id).meeting(*firing.held.exclusive, 1)
        if taken.firing is not None and taken.firing.id in joined and taken.occupancy_id is not None
    )
