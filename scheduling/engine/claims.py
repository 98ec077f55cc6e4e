"""What a claim on equipment meets: who has it, in whose words, and what it draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from scheduling.engine.breakers import drawn
from scheduling.engine.records import Apparatus, Taken, Use
from scheduling.engine.spans import Span
from scheduling.engine.wording import at, listed
from scheduling.engine.world import World
from studios.said import Said, said


@dataclass(frozen=True, kw_only=True)
class Blocked:
    """Why one piece of equipment cannot be had, until when, and the earliest start that it might allow.

    `name` is the equipment, `says` the rest of the sentence, or what makes it once it is to be said; empty
    where there is nothing worth saying. None for `until` and `not_before`: not within the horizon. `by` is
    what has it, where something has.
    """

    name: str
    says: str | Callable[[], str]
    until: int | None = None
    not_before: int | None = None
    by: Taken | None = None


def overlap(one: Span, other: Span) -> bool:
    """Whether two half-open spans share a minute."""
    return one[0] < other[1] and other[0] < one[1]


def taken_by(world: World, apparatus: Apparatus, taken: Taken, not_before: int) -> Blocked:
    """The sentence for equipment that somebody else has."""
    studio = world.studios[apparatus.studio_id]

    def says() -> str:
        until = at(taken.span[1], studio)
        if taken.outage:
            return said(
                "is out of use ({why}) until {until}",
                many="are out of use ({why}) until {until}",
                why=taken.held_by,
                until=until,
            )
        return said(
            "is held by {who} until {until}",
            many="are held by {who} until {until}",
            who=taken.held_by,
            until=until,
        )

    return Blocked(
        name=apparatus.name,
        says=says,
        until=taken.span[1],
        not_before=not_before,
    )


def draws(apparatus: Apparatus, span: Span, held_by: str) -> tuple[tuple[int, Use], ...]:
    """What the equipment draws while its controller may switch it on: its full connected draw.

    On a breaker that is what its length makes it count.
    """
    return tuple(
        (supply_id, Use(span=span, amount=amount, held_by=held_by))
        for supply_id, amount in drawn(apparatus, span)
    )


def said_once(blocked: Iterable[Blocked]) -> Iterator[str]:
    """Each cause once, with all the equipment that it is the cause for."""
    names: dict[str, list[str]] = {}
    for cause in blocked:
        says = cause.says if isinstance(cause.says, str) else cause.says()
        if says:
            names.setdefault(says, []).append(cause.name)
    for says, found in names.items():
        several = list(dict.fromkeys(found))
        of_many = says.of_many if len(several) > 1 and isinstance(says, Said) else says
        yield said("{names} {says}", names=listed(several), says=of_many)
