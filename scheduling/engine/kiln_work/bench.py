"""The pieces that are fired at a studio, how far each is on its route, and the kilns there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.kiln_work.kilns import Usable, free_from
from scheduling.engine.kiln_work.laying import ShelfKind
from scheduling.engine.kiln_work.stood import Stood, stood_in
from scheduling.engine.packing import Shelf
from scheduling.engine.world import World


@dataclass(frozen=True, kw_only=True)
class Bench:
    """Some pieces of the work, by their place in what was asked, and the studios that may fire them."""

    world: World
    asked: WorkAsked
    usable: Usable
    studios: tuple[int, ...]
    pieces: tuple[int, ...]

    @property
    def studio_id(self) -> int:
        """Where all of it is fired, if that is one studio."""
        (only,) = self.studios
        return only

    @cached_property
    def begins(self) -> Mapping[int, int]:
        """From when on each piece may be loaded: it is there, dry, and worked cold where it has to be."""
        return {piece: self._begins(piece) for piece in self.pieces}

    def _begins(self, piece: int) -> int:
        own = self.asked.pieces[piece]
        return free_from(self.asked, own, self.world.now) + own.unworked * self.asked.cold_min_each

    @property
    def first(self) -> int:
        """When the first loading may begin."""
        return min(self.begins.values())

    def through(self, step: int) -> tuple[int, ...]:
        """The pieces that still go through a firing of the route, counted from 0."""
        return tuple(piece for piece in self.pieces if self.asked.pieces[piece].first <= step)

    def new(self, step: int) -> dict[int, int]:
        """The pieces whose first firing it is, and when each may be loaded."""
        return {
            piece: begins for piece, begins in self.begins.items() if self.asked.pieces[piece].first == step
        }

    def stood(self, step: int, pieces: Iterable[int] | None = None) -> tuple[Stood, ...]:
        """All that go through a firing, or some of them, as they stand in it."""
        some = self.through(step) if pieces is None else pieces
        return stood_in(self.asked.route.firings[step], self.asked.pieces, some)

    @cached_property
    def steps(self) -> tuple[int, ...]:
        """The firings that any of them still goes through."""
        return tuple(step for step in range(len(self.asked.route.firings)) if self.through(step))

    @cached_property
    def kinds(self) -> tuple[ShelfKind, ...]:
        """The kilns, those of one studio with the same shelves together."""
        alike: dict[tuple[int, Shelf, int], list[int]] = {}
        for each in self.usable.kilns:
            studio_id = self.world.apparatus[each.kiln_id].studio_id
            if studio_id in self.studios:
                alike.setdefault((studio_id, each.shelf, each.levels), []).append(each.kiln_id)
        return tuple(
            ShelfKind(studio_id=studio_id, shelf=shelf, levels=levels, kiln_ids=tuple(sorted(kiln_ids)))
            for (studio_id, shelf, levels), kiln_ids in alike.items()
        )
