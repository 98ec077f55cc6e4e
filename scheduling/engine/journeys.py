"""The ways that whoever teaches has on the day of a class: from what comes before it, to what comes after."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scheduling.engine.clock import local, whole_day
from scheduling.engine.records import Ask, Engagement
from scheduling.engine.world import World


@dataclass(frozen=True, kw_only=True)
class Journey:
    """One engagement next to a class on its day: `before` it or after, and what the way leaves to spare."""

    other: Engagement
    before: bool
    travel_min: int
    spare_min: int


def journeys(world: World, ask: Ask, start: int) -> Iterator[Journey]:
    """From the last engagement of the day before a class, and to the first one after it.

    Setting up and cleaning up belong to the class. What somebody has elsewhere is at no known place, and is
    passed over.
    """
    studio, end = world.studios[ask.studio_id], start + ask.teach_min
    day = whole_day(local(start, studio.zone).date(), studio.zone)
    known = [one for one in world.people.get(ask.person_id or 0, ()) if not one.elsewhere]
    same_day = [one for one in known if one.span[0] < day[1] and day[0] < one.span[1]]
    before = max((one for one in same_day if one.span[1] <= start), key=_end, default=None)
    after = min((one for one in same_day if one.span[0] >= end), key=_start, default=None)
    if before is not None:
        way = world.travel.get((before.studio_id, ask.studio_id), 0)
        spare = start - ask.setup_min - before.span[1] - way
        yield Journey(other=before, before=True, travel_min=way, spare_min=max(0, spare))
    if after is not None:
        way = world.travel.get((ask.studio_id, after.studio_id), 0)
        spare = after.span[0] - end - ask.cleanup_min - way
        yield Journey(other=after, before=False, travel_min=way, spare_min=max(0, spare))


def way_min(world: World, ask: Ask, start: int) -> int:
    """Minutes on the way to a class and from it, on its day."""
    return sum(journey.travel_min for journey in journeys(world, ask, start))


def _start(one: Engagement) -> int:
    return one.span[0]


def _end(one: Engagement) -> int:
    return one.span[1]
