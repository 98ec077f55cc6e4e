"""The starts at which the rooms that a class is in take its people beside those who are there."""

from __future__ import annotations

from collections.abc import Iterator

from scheduling.engine.heat import HOT_STATIONS, places_of
from scheduling.engine.records import Ask, Kind
from scheduling.engine.spans import union
from scheduling.engine.startspace.supplies import Carried, Draw, Over, both
from scheduling.engine.world import World


def roomy(world: World, ask: Ask, found: Carried) -> Carried:
    """What is left of some starts. A room that only some choices of equipment lie in makes a start unsure."""
    starts = union((*found.surely, *found.perhaps))
    if not ask.people or not starts:
        return found
    begin, end = -ask.setup_min, ask.teach_min + ask.cleanup_min
    over = Over()
    for room_id, surely in rooms_asked(world, ask).items():
        draw = Draw(amount=ask.people, begin=begin, end=end, exact=surely)
        room = world.supplies[room_id]
        near = starts[0][0] + begin, starts[-1][1] + end
        over.enter(room.draws.steps_in(*near), room.limit, [draw])
    return both(found, over.left_of(starts))


def rooms_asked(world: World, ask: Ask) -> dict[int, bool]:
    """The rooms that a class may be in, and whether it is there whatever is chosen."""
    rooms: dict[int, bool] = {}
    for kind, count in ask.stations:
        places = list(_places(world, ask, kind))
        for room_id in {room for lies_in in places for room in lies_in}:
            elsewhere = sum(room_id not in lies_in for lies_in in places)
            rooms[room_id] = rooms.get(room_id, False) or elsewhere < count
    return rooms


def _places(world: World, ask: Ask, kind: Kind) -> Iterator[frozenset[int]]:
    """For each place of a kind the rooms that it lies in, with what is held together with it."""
    for apparatus in world.of_kind(ask.studio_id, kind):
        if ask.only is None or apparatus.id in ask.only:
            members = (apparatus, *world.companions(apparatus)) if kind in HOT_STATIONS else (apparatus,)
            rooms = frozenset(each.room_id for each in members if each.room_id is not None)
            yield from (rooms for _ in places_of(apparatus))
