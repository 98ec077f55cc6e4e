"""Shared supplies: what is drawn at once never exceeds the greatest rate."""

from __future__ import annotations

from collections.abc import Sequence

from scheduling.engine.records import Reason, StudioRecord, SupplyRecord, Use, World
from scheduling.engine.spans import TOLERANCE, levels
from scheduling.engine.wording import between


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
    reasons = []
    for supply_id in dict.fromkeys(supply_id for supply_id, _ in asked):
        supply = world.supplies[supply_id]
        mine = [use for asked_id, use in asked if asked_id == supply_id]
        others = [use for use in supply.uses if use.occupancy_id not in replaced]
        others += [use for key, use in relit if key == supply_id]
        if (reason := _short(studio, supply, mine, others, start)) is not None:
            reasons.append(reason)
    return tuple(reasons)


def _short(
    studio: StudioRecord, supply: SupplyRecord, mine: list[Use], others: list[Use], start: int
) -> Reason | None:
    near = [use for use in others if any(_meet(use, own) for own in mine)]
    over = [
        step
        for step in levels((use.span, use.amount) for use in (*mine, *near))
        if step[1] > supply.limit + TOLERANCE
    ]
    over = [
        step for step in over if any(own.span[0] < step[0][1] and step[0][0] < own.span[1] for own in mine)
    ]
    if not over:
        return None
    (begin, end), total = over[-1]
    beside = list(dict.fromkeys(use.held_by for use in near if use.span[0] < end and begin < use.span[1]))
    alone = all(not (use.span[0] < end and begin < use.span[1]) for use in near)
    return Reason(
        code="supply-short",
        sentence=(
            f"{supply.name} gives {supply.limit:g} {supply.unit}; with this it would have to give {total:g} "
            f"from {between(begin, end, studio)}" + (f", beside {', '.join(beside)}." if beside else ".")
        ),
        until=end,
        not_before=None
        if alone
        else start + max(1, min(end - max(own.span[0], start) for own in mine if own.span[0] < end)),
    )


def _meet(one: Use, other: Use) -> bool:
    return one.span[0] < other.span[1] and other.span[0] < one.span[1]
