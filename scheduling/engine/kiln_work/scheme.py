"""One way to put the work into loads: firing after firing, and what each load has to wait for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from scheduling.engine.kiln_work.laying import Laid, LoadLaid


@dataclass(frozen=True, kw_only=True)
class Scheme:
    """The loads of each firing of a route at one studio, those done first before the others.

    `over` is when everything is ready by a rough sketch; `least_cost`: what it costs if no kiln ever waits
    to be unloaded. A load is known by its key: its firing, its number.
    """

    laid: tuple[Laid, ...]
    over: int
    least_cost: float

    @cached_property
    def loads(self) -> Mapping[str, LoadLaid]:
        return {
            f"{step}.{number}": load
            for step, laid in enumerate(self.laid, 1)
            for number, load in enumerate(laid.loads, 1)
        }

    @property
    def shelves(self) -> int:
        """The shelves that are laid out in all."""
        return sum(len(load.shelves) for load in self.loads.values())

    def befores(self) -> Iterator[tuple[str, str, frozenset[int]]]:
        """A load, one of the next firing, and the pieces that go on from the one into the other."""
        for first, one in self.loads.items():
            for second, other in self.loads.items():
                shared = frozenset(one.pieces) & frozenset(other.pieces)
                if other.step == one.step + 1 and shared:
                    yield first, second, shared

    def reused(self) -> Iterator[tuple[str, str]]:
        """A load, and a later one that needs a mould which is in it.

        The moulds of a form are taken in turn, so that each waits as long as it can.
        """
        holder: dict[tuple[int, int], str] = {}
        taken: Counter[int] = Counter()
        for key, load in self.loads.items():
            slots = list(_slots(load, taken))
            yield from ((before, key) for before in dict.fromkeys(holder[s] for s in slots if s in holder))
            holder.update(dict.fromkeys(slots, key))
            taken += load.moulds


def _slots(load: LoadLaid, taken: Counter[int]) -> Iterator[tuple[int, int]]:
    """Which moulds a load takes: of each form those that have been idle longest, by their number."""
    have = {one.mould.id: one.mould.count for one in load.stood if one.mould}
    for form, count in load.moulds.items():
        yield from ((form, (taken[form] + number) % have[form]) for number in range(count))
