"""How long a loaded kiln waits: no longer than it takes until its supplies have room for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.records import Apparatus, FiringHeld, Kind, Reason, Use
from scheduling.engine.spans import TOLERANCE, Span, levels, subtract, union
from scheduling.engine.waiting import longest_wait, waits
from scheduling.engine.wording import at
from scheduling.engine.world import World
from studios.said import said

Drawn = Sequence[tuple[int, Use]]


@dataclass(frozen=True, kw_only=True)
class Settled:
    """The firings of a class with the least wait that its supplies ask of each kiln.

    `retry` is the first start that may do better, where a kiln could not wait long enough.
    """

    firings: tuple[FiringHeld, ...]
    retry: int | None = None

    def refused(self, reasons: tuple[Reason, ...]) -> tuple[Reason, ...]:
        """Why supplies refuse a start, with the bound that a kiln which waits allows."""
        if self.retry is None:
            return reasons
        return tuple(replace(reason, not_before=self.retry) for reason in reasons)


def settled(
    world: World, start: int, firings: tuple[FiringHeld, ...], beside: Drawn, gone: frozenset[int]
) -> Settled:
    """Each kiln that may wait takes the least wait, in turn, beside all else that is drawn.

    `beside` is what else is drawn once this is booked, in place of what the occupancies that are `gone` drew.
    """
    waiting = [n for n, firing in enumerate(firings) if longest_wait(_kiln(world, firing))]
    if not waiting:
        return Settled(firings=firings)
    chosen, retry = list(firings), None
    drawn = [*beside, *(use for n, f in enumerate(firings) if n not in waiting for use in f.held.draws)]
    for n in waiting:
        chosen[n], wanting = _least(world, firings[n], drawn, gone)
        if wanting is not None:
            retry = start + (wanting if len(waiting) == 1 else 1)
        drawn.extend(chosen[n].held.draws)
    return Settled(firings=tuple(chosen), retry=retry)


def _kiln(world: World, firing: FiringHeld) -> Apparatus:
    return world.apparatus[firing.held.apparatus_id]


def _least(
    world: World, firing: FiringHeld, beside: Drawn, gone: frozenset[int]
) -> tuple[FiringHeld, int | None]:
    """The firing after its least wait; where none is enough, also by how much the start must move."""
    longest = longest_wait(_kiln(world, firing))
    allowed = waits(world, _kiln(world, firing), firing)
    own = dict(firing.held.draws)
    near = [(key, use) for key, use in beside if key in own]
    refused = union(
        span
        for key, use in own.items()
        for span in _refused(world, key, use, longest, [*(u for k, u in near if k == key)], gone)
    )
    left = subtract(allowed, refused)
    first = _after(world, firing, (left or allowed)[0][0])
    if left:
        return first, None
    if allowed != ((0, longest + 1),) or near:
        return first, 1
    # What draws there stands still, so the longest wait of a later start must reach beyond it.
    return first, max(1, max(end for begin, end in refused if begin <= longest) - longest)


def _refused(
    world: World, supply_id: int, own: Use, longest: int, beside: Sequence[Use], gone: frozenset[int]
) -> Iterator[Span]:
    """The waits for which a supply does not carry the program of a kiln."""
    supply, (begin, end) = world.supplies[supply_id], own.span
    drawn, room = supply.draws, supply.limit - own.amount + TOLERANCE
    others = [*drawn.steps_in(begin, end + longest), *((use.span, use.amount) for use in beside)]
    others += [(use.span, -use.amount) for key in gone for use in drawn.by_occupancy.get(key, ())]
    if room < 0:
        yield 0, longest + 1
    for (since, until), used in levels(others):
        if used > room:
            yield since - end + 1, until - begin


def _after(world: World, firing: FiringHeld, wait_min: int) -> FiringHeld:
    apparatus = _kiln(world, firing)
    studio = world.studios[apparatus.studio_id]
    later = run(studio, apparatus, firing.recipe, firing.lots, wait_min=wait_min) if wait_min else firing
    # After each of its `waits` somebody can unload it.
    return firing if isinstance(later, Unrunnable) else later


def waits_on_a_store(world: World, firings: Sequence[FiringHeld]) -> bool:
    """Whether what a store gives depends on a wait, which may change from one start to the next."""
    kilns = (_kiln(world, firing) for firing in firings)
    return any(longest_wait(kiln) and any(key in world.stores for key, _ in kiln.draws) for kiln in kilns)


def wait_notes(world: World, firings: Sequence[FiringHeld]) -> Iterator[str]:
    """Who books a kiln that waits is told when its program starts."""
    for firing in firings:
        apparatus = _kiln(world, firing)
        if apparatus.kind is Kind.KILN and firing.at_hold < firing.last_in:
            studio = world.studios[apparatus.studio_id]
            yield said(
                "{equipment} is loaded by {loaded} and waits: its program starts by itself at {starts}.",
                equipment=apparatus.name,
                loaded=at(firing.at_hold, studio),
                starts=at(firing.last_in, studio),
            )
