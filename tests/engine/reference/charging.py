"""When a furnace can be charged: every minute tried, every place and every hour of it looked up."""

from __future__ import annotations

from collections.abc import Iterator

from scheduling.engine.records import ChargePlan, Duty
from scheduling.engine.world import World
from tests.engine.reference.minutes import Minutes, Stretch


def charges_that_fit(world: World, furnace_id: int, begin: int, until: int) -> list[int]:
    """The minutes in [begin, until), none of them past, at which a whole charge can start.

    All places are free until it has come down, and somebody who may charge is there for each time.
    """
    plan, furnace = world.pots[furnace_id].plan, world.apparatus[furnace_id]
    times = list(charged(plan))
    total = times[-1][1] + plan.fining_min + plan.coming_down_min
    minutes = Minutes(first=begin, last=max(begin, until) + total)
    busy = minutes.marked(claim.span for claim in world.taken.get(furnace_id, ()))
    there = minutes.marked(world.studios[furnace.studio_id].staffed[Duty.CHARGE])
    return [
        start
        for start in range(max(begin, world.now), until)
        if minutes.none(busy, start, start + total)
        and all(minutes.every(there, start + first, start + last) for first, last in times)
    ]


def charged(plan: ChargePlan) -> Iterator[Stretch]:
    """When it is charged, from the turn-up on: one time after another, with a gap to melt in."""
    at = plan.turn_up_min
    for _ in range(plan.charges):
        yield at, at + plan.charge_min
        at += plan.charge_min + plan.gap_min


def proposed(world: World, furnace_id: int, kg: float, begin: int, until: int) -> Stretch | None:
    """The first charge, over by a minute, after which a full pot is enough until the next, and `kg` more."""
    pot = world.pots[furnace_id]
    total = list(charged(pot.plan))[-1][1] + pot.plan.fining_min + pot.plan.coming_down_min
    for start in charges_that_fit(world, furnace_id, begin, until - total + 1):
        usable = start + total
        following = min((minute for minute, _ in pot.store.refills if minute > usable), default=None)
        gone = sum(
            use.amount
            for use in pot.store.uses
            if use.span[0] >= usable and (following is None or use.span[0] < following)
        )
        if pot.store.full - gone - kg >= pot.store.floor:
            return start, usable
    return None
