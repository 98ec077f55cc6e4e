"""What a start would hold in one place, and what it would draw, written down as plain stretches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from scheduling.engine.records import Apparatus, Ask, Duty, Engagement, Kind, Taken
from scheduling.engine.world import World
from tests.engine.reference.minutes import Amounts, Flags, Minutes, Stretch

HOT = (Kind.GLORY_HOLE, Kind.PIPE_WARMER)


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """So much from a supply, over a stretch."""

    supply_id: int
    stretch: Stretch
    amount: float


@dataclass(frozen=True, kw_only=True)
class Part:
    """Something that a start holds: places, draws, and whose standing draws it puts others in place of.

    `moved` is what those who come after it draw then, lit at another time; `glass` what it takes from the pot
    of a furnace; `waited` the same part after one more minute of waiting, and one more, as long as it may.
    """

    places: tuple[tuple[int, int], ...]
    draws: tuple[Drawn, ...]
    moved: tuple[Drawn, ...] = ()
    glass: tuple[Drawn, ...] = ()
    replaces: frozenset[int] = frozenset()
    waited: Callable[[], Iterator[Part]] | None = None


def drawn(apparatus: Apparatus, begin: int, end: int) -> tuple[Drawn, ...]:
    """The full connected draw of a piece of equipment, as its supplies count it."""
    return tuple(
        Drawn(
            supply_id=supply_id,
            stretch=(begin, end),
            amount=amount * on_a_breaker(apparatus, supply_id, end - begin),
        )
        for supply_id, amount in apparatus.draws
    )


def on_a_breaker(apparatus: Apparatus, supply_id: int, length: int) -> float:
    """Five quarters where a load lasts three hours or may: a glory hole is kept hot by whoever is next."""
    long = length >= 180 or apparatus.kind in HOT
    return 1.25 if long and supply_id in apparatus.breakers else 1.0


class Book:
    """A world written out minute by minute, for one ask."""

    def __init__(self, world: World, ask: Ask, begin: int, until: int) -> None:
        self.world, self.ask = world, ask
        self.studio = world.studios[ask.studio_id]
        # Wide enough for the longest heat-up before and the longest night after.
        self.minutes = Minutes(first=min(begin, world.now) - 3000, last=until + 6000)
        marked = self.minutes.marked
        self.staffed: dict[Duty, Flags] = {duty: marked(self.studio.staffed[duty]) for duty in Duty}
        self.to_come = marked([(world.now, self.minutes.last)])
        self.attended = self.to_come & self.staffed[Duty.LIGHT]
        self.engaged = marked(self.away(other) for other in world.people.get(ask.person_id or 0, ()))
        self.drawn: dict[int, Amounts] = {
            key: self.minutes.added_up((use.span, use.amount) for use in supply.uses)
            for key, supply in world.supplies.items()
        }
        self._fits: dict[int, Flags] = {}
        self._taken: dict[tuple[int, int], Flags] = {}

    def away(self, other: Engagement) -> Stretch:
        """Somebody who is engaged elsewhere is on the way there before, and on the way back after.

        From what stands in their own calendar no way is known.
        """
        here, there = self.studio.id, other.studio_id
        travel = self.world.travel if here != there else {}
        return other.span[0] - travel.get((here, there), 0), other.span[1] + travel.get((there, here), 0)

    def standing(self, apparatus_id: int, place: int) -> list[Taken]:
        """The claims on one place; place 0 is every place."""
        return [t for t in self.world.taken.get(apparatus_id, ()) if t.place in (0, place)]

    def taken(self, apparatus_id: int, place: int) -> Flags:
        """The minutes in which a place is somebody's."""
        key = (apparatus_id, place)
        if key not in self._taken:
            self._taken[key] = self.minutes.marked(t.span for t in self.standing(*key))
        return self._taken[key]

    def heated(self, apparatus: Apparatus) -> Flags:
        """The minutes from now on in which it may be hot: gas is attended, electric heat where it must be."""
        if not apparatus.gas_fired and self.studio.electric_unattended:
            return self.to_come
        return self.attended

    def unloaded_from(self, cool: int, clear_min: int) -> int | None:
        """The first minute from which on somebody who may unload is there for the whole unloading."""
        if clear_min not in self._fits:
            self._fits[clear_min] = self.minutes.runs_of(self.staffed[Duty.UNLOAD], clear_min)
        after = self._fits[clear_min][self.minutes.at(cool) :]
        return cool + int(after.argmax()) if after.any() else None

    def of_kind(self, kind: Kind) -> list[Apparatus]:
        """The equipment of a kind at the studio that is in service."""
        return [
            a
            for a in self.world.apparatus.values()
            if a.active and a.kind is kind and a.studio_id == self.studio.id
        ]
