"""Shared supplies: what is drawn at once never exceeds the greatest rate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from scheduling.engine.breakers import LONG_MIN, is_breaker
from scheduling.engine.records import Reason, StudioRecord, SupplyRecord, Use
from scheduling.engine.spans import TOLERANCE, Span, levels
from scheduling.engine.wording import between
from scheduling.engine.world import World
from studios.said import said, several_said


def short(
    world: World,
    studio: StudioRecord,
    asked: Sequence[tuple[int, Use]],
    start: int,
    *,
    replaced: frozenset[int],
    relit: Sequence[tuple[int, Use]],
) -> tuple[Reason, ...]:
    """The supplies that would not carry these draws beside what they already carry.

    `replaced` are the occupancies whose own draws others take the place of: those asked for, or `relit`, what
    follows at a hot station and is lit later, which never draws more than it did and refuses nothing itself.
    """
    found = []
    for supply_id in dict.fromkeys(supply_id for supply_id, _ in asked):
        supply = world.supplies[supply_id]
        mine = [use for asked_id, use in asked if asked_id == supply_id]
        later = [use for key, use in relit if key == supply_id]
        found.append(_short(world, studio, supply, mine, later, replaced, start=start))
    return tuple(reason for reason in found if reason is not None)


def _short(
    world: World,
    studio: StudioRecord,
    supply: SupplyRecord,
    mine: Sequence[Use],
    relit: Sequence[Use],
    replaced: frozenset[int],
    *,
    start: int,
) -> Reason | None:
    drawn = supply.draws
    near = min(use.span[0] for use in mine), max(use.span[1] for use in mine)
    gone = [use for key in replaced for use in drawn.by_occupancy.get(key, ())]
    others = [*drawn.steps_in(*near), *((use.span, -use.amount) for use in gone)]
    others += [(use.span, use.amount) for use in relit]
    totals = levels([*others, *((use.span, use.amount) for use in mine)])
    over = [
        step
        for step in totals
        if step[1] > supply.limit + TOLERANCE and any(_meet(step[0], own.span) for own in mine)
    ]
    if not over:
        return None
    (begin, end), total = over[-1]
    uses = [use for use in drawn.meeting(begin, end) if use.occupancy_id not in replaced]
    beside = [*uses, *(use for use in relit if _meet(use.span, (begin, end)))]
    names = list(dict.fromkeys(use.held_by for use in beside))
    move = min((end - max(own.span[0], start) for own in mine if own.span[0] < end), default=1)
    move = min([move, *_until_short(world, supply, mine)])
    beside_whom = said(", beside {names}", names=several_said(names, ", ")) if names else ""
    return Reason(
        code="supply-short",
        sentence=said(
            "{too_much} from {hours}{beside}.",
            too_much=_too_much(world, supply, total),
            hours=between(begin, end, studio),
            beside=beside_whom,
        ),
        until=end,
        not_before=start + max(1, move) if names else None,
    )


def _until_short(world: World, supply: SupplyRecord, mine: Sequence[Use]) -> Iterator[int]:
    """The fewest minutes after which a load on a breaker may be too short to count at 125 %.

    A firing that is joined, and is lit the later the later the pieces come, ends when it does.
    """
    if is_breaker(world, supply.id):
        yield from (excess + 1 for own in mine if (excess := own.span[1] - own.span[0] - LONG_MIN) >= 0)


def _too_much(world: World, supply: SupplyRecord, total: float) -> str:
    facts: dict[str, Any] = {
        "supply": supply.name,
        "limit": supply.limit,
        "unit": supply.unit,
        "total": total,
    }
    if is_breaker(world, supply.id):
        return said(
            "The breaker of {supply} is rated for {limit:g} {unit}; with this it would have to carry "
            "{total:g}, loads of 3 hours or more counted at 125 %,",
            **facts,
        )
    return said("{supply} gives {limit:g} {unit}; with this it would have to give {total:g}", **facts)


def _meet(one: Span, other: Span) -> bool:
    return one[0] < other[1] and other[0] < one[1]
