"""Many ways to lay the same pieces: what comes of them is the fewest shelves and a stock of shelf loads."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count, product

from scheduling.engine.packing.laying import FITS, Fit, lay_best, lay_first
from scheduling.engine.packing.spaced import Kind, Layout, Load, Spaced

# The larger first, by one measure or another.
MEASURES: tuple[Callable[[Kind], int], ...] = (
    lambda kind: kind.ways[0][0] * kind.ways[0][1],
    lambda kind: max(kind.ways[0]),
    lambda kind: sum(kind.ways[0]),
    lambda kind: min(kind.ways[0]),
)
Method = tuple[Callable[[Spaced, Sequence[int], Fit], list[Layout]], Fit]
METHODS: tuple[Method, ...] = tuple(product((lay_first, lay_best), FITS))
# By how much a measure is shaken, once each order has been tried as it is.
SHAKEN = (0.1, 0.2, 0.3, 0.5, 0.8)


@dataclass
class Stock:
    """Every shelf load that was ever laid, with one way to lay it, and the fewest that take all pieces."""

    what: Spaced
    loads: dict[Load, Layout] = field(default_factory=dict)
    fewest: list[Layout] | None = None

    def keep(self, layouts: Sequence[Layout]) -> None:
        """All pieces were laid like this."""
        for layout in layouts:
            self.add(layout)
        if self.fewest is None or len(layouts) < len(self.fewest):
            self.fewest = list(layouts)

    def add(self, layout: Layout) -> Load:
        """One shelf can be laid like this."""
        load = tuple(sorted(kind for kind, _ in layout))
        self.loads.setdefault(load, layout)
        return load

    @property
    def shelves(self) -> int:
        """How few shelves do so far."""
        return len(self.what.each) if self.fewest is None else len(self.fewest)

    def choose(self, loads: Sequence[Load]) -> None:
        """These loads hold all pieces; what is there more often than needed is left out."""
        left = Counter(self.what.each)
        chosen: list[Layout] = []
        for load in loads:
            layout = []
            for kind, box in self.loads[load]:
                if left[kind]:
                    left[kind] -= 1
                    layout.append((kind, box))
            if layout:
                chosen.append(tuple(layout))
        self.keep(chosen)


def layouts(what: Spaced) -> Iterator[list[Layout]]:
    """Without end: every order with every method, then orders that are more and more shaken."""
    at_random = random.Random(1)  # noqa: S311 - the same each time, and nothing secret
    for method, measure in product(METHODS, MEASURES):
        yield _laid(what, method, [float(measure(kind)) for kind in what.kinds])
    for number in count():
        shaken = SHAKEN[number % len(SHAKEN)]
        measure = at_random.choice(MEASURES)
        weights = [measure(kind) * at_random.uniform(1 - shaken, 1 + shaken) for kind in what.kinds]
        yield _laid(what, at_random.choice(METHODS), weights)


def _laid(what: Spaced, method: Method, weights: Sequence[float]) -> list[Layout]:
    lay, fit = method
    return lay(what, sorted(what.each, key=lambda kind: -weights[kind]), fit)
