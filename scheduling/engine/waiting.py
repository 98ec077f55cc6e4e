"""A kiln whose controller starts by itself waits, loaded and cold, until its program may run."""

from __future__ import annotations

from bisect import bisect_left

from scheduling.engine.heat import lightable
from scheduling.engine.records import EVER, Apparatus, Duty, FiringHeld, Kind
from scheduling.engine.spans import Span, clip
from scheduling.engine.world import World

Spans = tuple[Span, ...]


def longest_wait(apparatus: Apparatus) -> int:
    """The minutes for which it may stand loaded before its program starts; only a kiln waits."""
    return apparatus.longest_wait_min if apparatus.kind is Kind.KILN else 0


def waits(world: World, apparatus: Apparatus, firing: FiringHeld) -> Spans:
    """The waits for which a kiln stays free until it is unloaded, and somebody minds what gas it burns.

    `firing` is one whose program starts at once, and that finds the kiln free.
    """
    taken = next(world.claims(apparatus.id).ending_after(firing.held.exclusive[0], 1), None)
    staffed = world.studios[apparatus.studio_id].staffed[Duty.UNLOAD]
    before = taken.span[0] if taken is not None else EVER
    latest = latest_unloading(staffed, before, apparatus.clear_min)
    if latest is None or latest < firing.cool:
        return ()
    most = min(longest_wait(apparatus), latest - firing.cool)
    return clip(_minded(world, apparatus, firing), (0, most + 1))


def _minded(world: World, apparatus: Apparatus, firing: FiringHeld) -> Spans:
    """The waits after which somebody is there from the first to the last minute in which it burns gas."""
    if not apparatus.gas_fired:
        return ((0, EVER),)
    begin, off = firing.last_in, firing.heat_off
    hours = ((o, c) for o, c in lightable(world, apparatus) if c - o >= off - begin)
    return tuple((opens - begin, closes - off + 1) for opens, closes in hours)


def latest_unloading(staffed: Spans, before: int, clear_min: int) -> int | None:
    """The last minute at which somebody may begin to unload and be done before the next use."""
    at = bisect_left(staffed, before, key=lambda span: span[0])
    for opens, closes in reversed(staffed[:at]):
        # An unloading of no length is still done while somebody is there.
        latest = min(closes - max(clear_min, 1), before - clear_min)
        if latest >= opens:
            return latest
    return None
