"""A room takes so many people at once: the seats of each class in it, whoever teaches and who assists.

They come with the set-up and go with the clean-up. Somebody in open bench time is one. A class is in each
room in which it has a station; the annealer or kiln that its pieces go into brings nobody into a room.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from scheduling.engine.records import Ask, Held, Reason, StudioRecord, Use
from scheduling.engine.spans import TOLERANCE, Span
from scheduling.engine.wording import between, listed
from scheduling.engine.world import World
from studios.said import said


def rooms_of(world: World, held: Iterable[Held]) -> list[int]:
    """The rooms in which something is held, each once."""
    rooms = (world.apparatus[part.apparatus_id].room_id for part in held)
    return list(dict.fromkeys(room for room in rooms if room is not None))


def whole_span(ask: Ask, start: int) -> Span:
    """The hours of a class with its set-up and clean-up."""
    return start - ask.setup_min, start + ask.teach_min + ask.cleanup_min


def crowded(world: World, ask: Ask, start: int, held: Iterable[Held]) -> Iterator[Reason]:
    """The rooms in which there would be too many people, while those of the class are there."""
    for room_id in rooms_of(world, held) if ask.people else ():
        room, span = world.supplies[room_id], whole_span(ask, start)
        steps = room.draws.steps_in(*span)
        over = [(step, there + ask.people) for step, there in steps if there + ask.people > _most(room.limit)]
        if ask.people > _most(room.limit):
            yield _too_many(room.name, room.limit, ask)
        elif over:
            (begin, end), total = over[-1]
            shared = max(begin, span[0]), min(end, span[1])
            beside = list(dict.fromkeys(use.held_by for use in room.draws.meeting(*shared)))
            yield Reason(
                code="room-full",
                sentence=said(
                    "{room} takes {limit:g} people at once; with {more} more there would be {total:g} "
                    "from {hours}, beside {beside}.",
                    room=room.name,
                    limit=room.limit,
                    more=ask.people,
                    total=total,
                    hours=between(*shared, _studio(world, ask)),
                    beside=listed(beside),
                ),
                until=end,
                not_before=start + end - span[0],
            )


def with_people(world: World, ask: Ask, start: int, held: tuple[Held, ...]) -> tuple[Held, ...]:
    """The same, with the people entered at the first thing that is held in each room."""
    rooms = set(rooms_of(world, held)) if ask.people else set()
    use, entered = Use(span=whole_span(ask, start), amount=ask.people, held_by=ask.title), []
    for part in held:
        room_id = world.apparatus[part.apparatus_id].room_id
        if room_id is None or room_id not in rooms:
            entered.append(part)
        else:
            entered.append(replace(part, draws=(*part.draws, (room_id, use))))
            rooms.remove(room_id)
    return tuple(entered)


def _most(limit: float) -> float:
    return limit + TOLERANCE


def _studio(world: World, ask: Ask) -> StudioRecord:
    return world.studios[ask.studio_id]


def _too_many(name: str, limit: float, ask: Ask) -> Reason:
    return Reason(
        code="room-full",
        sentence=said(
            "{room} takes {limit:g} people at once, and {course} brings {people}.",
            room=name,
            limit=limit,
            course=ask.title,
            people=ask.people,
        ),
        until=None,
        not_before=None,
    )
