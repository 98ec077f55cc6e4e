"""Worlds whose rooms take so many people at once, and classes that bring some and need assistants."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from hypothesis import strategies as st

from scheduling.engine.records import ELSEWHERE, Ask, Engagement, SupplyRecord, Use
from scheduling.engine.world import World
from tests.engine.reference.minutes import Stretch

HALL, FLAME, FAR_ROOM = 31, 32, 33
# The room in which each thing stands: none at all, one for each studio, or several that share a class.
NOWHERE: dict[int, int] = {}
ONE_EACH = dict.fromkeys(range(1, 20), HALL) | dict.fromkeys(range(21, 30), FAR_ROOM)
BY_CRAFT = dict.fromkeys((1, 2, 3, 4, 5, 7, 11), HALL) | dict.fromkeys((9, 10, 12, 14, 15), FLAME)
BAYS = dict.fromkeys((1, 2, 3, 4, 8, 15), HALL) | dict.fromkeys((5, 6, 7, 9, 17, 23, 26), FLAME)
ROOMS = (NOWHERE, ONE_EACH, BY_CRAFT, BAYS, BAYS)


@st.composite
def peopled(draw: st.DrawFn, world: World, ask: Ask, begin: int) -> tuple[World, Ask]:
    """The same world and question, with people in the rooms."""
    rooms = draw(st.sampled_from(ROOMS))
    apparatus = {key: replace(each, room_id=rooms.get(key)) for key, each in world.apparatus.items()}
    world = replace(world, apparatus=apparatus)
    supplies = {key: draw(room(world, key, begin)) for key in (HALL, FLAME, FAR_ROOM)}
    return (
        replace(world, supplies={**world.supplies, **supplies}),
        replace(ask, people=draw(st.sampled_from([0, 1, 3, 5, 7, 10]))),
    )


@st.composite
def assisted(draw: st.DrawFn, world: World, ask: Ask, begin: int) -> tuple[World, Ask]:
    """The same world and question; up to three could assist, and whoever teaches may be among them."""
    people = {key: tuple(draw(promised(begin))) for key in (8, 9, 10)}
    could = draw(st.permutations((7, 8, 9, 10)))[: draw(st.integers(1, 4))]
    return (
        replace(world, people={**world.people, **people}, names={**world.names, 8: "A", 9: "B", 10: "C"}),
        replace(ask, assistants=draw(st.sampled_from([0, 0, 1, 1, 2])), assistant_ids=tuple(could)),
    )


@st.composite
def promised(draw: st.DrawFn, begin: int) -> list[Engagement]:
    """What somebody does already, here, at the other studio and elsewhere: mostly something."""
    found: list[Engagement] = []
    reached = begin
    for _ in range(draw(st.integers(1, 3))):
        first = reached + draw(st.integers(0, 400))
        reached = first + draw(st.integers(60, 400))
        studio = draw(st.sampled_from([1, 2, ELSEWHERE]))
        found.append(Engagement(span=(first, reached), studio_id=studio, studio="Studio", what="a class"))
    return found


@st.composite
def room(draw: st.DrawFn, world: World, key: int, begin: int) -> SupplyRecord:
    """A room for six or nine, with the people of what is booked there and some of whom nothing is held."""
    uses = [
        Use(
            span=(core[0] - 10, core[1] + 5),
            amount=draw(st.integers(0, 5)),
            held_by="a class",
            occupancy_id=n,
        )
        for n, core in _sessions_in(world, key)
    ]
    hour = st.integers(begin, begin + 1300).map(lambda minute: (minute, minute + 60))
    uses += [Use(span=draw(hour), amount=4, held_by="visitors") for _ in range(draw(st.integers(0, 2)))]
    limit = draw(st.sampled_from([6, 9]))
    return SupplyRecord(id=key, name=f"room {key}", unit="people", limit=limit, uses=tuple(uses))


def _sessions_in(world: World, key: int) -> Iterator[tuple[int, Stretch]]:
    for apparatus in world.apparatus.values():
        for taken in world.taken.get(apparatus.id, ()) if apparatus.room_id == key else ():
            if taken.occupancy_id is not None and taken.firing is None:
                yield taken.occupancy_id, taken.core
