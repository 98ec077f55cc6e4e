"""One person is in one place at a time, and needs time to get from one studio to another.

What a person's own calendar has takes their hours too, but no way: where it is is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from scheduling.engine.records import Ask, Engagement, Reason
from scheduling.engine.spans import Span, subtract
from scheduling.engine.wording import between, causes_of, listed
from scheduling.engine.world import World
from studios.said import said


def busy(world: World, ask: Ask, start: int, span: Span) -> Reason | None:
    """What keeps whoever teaches from giving these hours: something else, or the way to or from it."""
    other = None if ask.person_id is None else _in_the_way(world, ask.person_id, ask.studio_id, span)
    if ask.person_id is None or other is None:
        return None
    free = _away(world, ask.studio_id, other)[1]
    return Reason(
        code="person-busy",
        sentence=said("{who_has_what}.", who_has_what=_says(world, ask, ask.person_id, other)),
        until=free,
        not_before=free + start - span[0],
    )


def engaged(world: World, ask: Ask) -> tuple[Span, ...]:
    """The hours that whoever teaches cannot give: other engagements with the way to them and back."""
    return () if ask.person_id is None else away(world, ask.person_id, ask.studio_id)


def away(world: World, person_id: int, studio_id: int) -> tuple[Span, ...]:
    """The hours that a person cannot give to a studio."""
    return tuple(_away(world, studio_id, other) for other in world.people.get(person_id, ()))


def with_promises_kept(world: World, promised: Mapping[int, Span]) -> World:
    """Hours that people have promised to a class stay promised, whatever their own calendars say by now."""
    kept = {
        key: tuple(part for one in every for part in _without(one, promised.get(key)))
        for key, every in world.people.items()
    }
    return replace(world, people=kept)


def _without(one: Engagement, promised: Span | None) -> Iterator[Engagement]:
    if promised is None or not one.elsewhere:
        yield one
        return
    yield from (replace(one, span=rest) for rest in subtract([one.span], [promised]))


def may_assist(ask: Ask) -> tuple[int, ...]:
    """Those who could assist, in their order; nobody assists in their own class."""
    return tuple(key for key in ask.assistant_ids if key != ask.person_id) if ask.assistants else ()


def assisting(world: World, ask: Ask, span: Span) -> tuple[int, ...]:
    """Whoever assists: the first of those who could, and are free from the set-up to the clean-up."""
    free = (key for key in may_assist(ask) if _in_the_way(world, key, ask.studio_id, span) is None)
    return tuple(free)[: ask.assistants]


def unassisted(world: World, ask: Ask, start: int, span: Span) -> Iterator[Reason]:
    """Too few who could assist are free; or there are too few of them at all."""
    found = len(assisting(world, ask, span))
    if found >= ask.assistants:
        return
    could = may_assist(ask)
    in_the_way = ((key, _in_the_way(world, key, ask.studio_id, span)) for key in could)
    known = {key: other for key, other in in_the_way if other is not None}
    needs = said(
        "{course} needs {count} assistant",
        several="{course} needs {count} assistants",
        course=ask.title,
        count=ask.assistants,
    )
    if len(could) < ask.assistants:
        studio = world.studios[ask.studio_id].name
        sentence = said(
            "{needs}, and {few} could assist at {studio}.", needs=needs, few=_few(len(could)), studio=studio
        )
        yield Reason(code="assistants-missing", sentence=sentence, until=None, not_before=None)
        return
    ends = sorted(_away(world, ask.studio_id, other)[1] for other in known.values())
    free = ends[ask.assistants - found - 1]
    says = causes_of(_says(world, ask, key, other) for key, other in known.items())
    yield Reason(
        code="assistants-busy",
        sentence=said("{needs}, and {few} is free: {says}.", needs=needs, few=_few(found), says=says),
        until=free,
        not_before=free + start - span[0],
    )


def _few(people: int) -> str:
    return said("only {people}", people=people) if people else said("nobody")


def assisting_notes(world: World, assistant_ids: Iterable[int]) -> list[str]:
    """Who comes to assist."""
    names = [world.names.get(key, said("Somebody")) for key in assistant_ids]
    if not names:
        return []
    listing, count = listed(names), len(names)
    return [said("{names} assists.", several="{names} assist.", names=listing, count=count)]


def _in_the_way(world: World, person_id: int, studio_id: int, span: Span) -> Engagement | None:
    """The first engagement that keeps a person from giving some hours to a studio."""
    # Beyond the longest way nothing is near.
    farthest = max(world.travel.values(), default=0)
    first, last = span[0] - farthest, span[1] + farthest
    for other in world.people.get(person_id, ()):
        if first < other.span[1] and other.span[0] < last:
            begin, end = _away(world, studio_id, other)
            if span[0] < end and begin < span[1]:
                return other
    return None


def _away(world: World, studio_id: int, other: Engagement) -> Span:
    """An engagement with the way there from a studio, and back; what is elsewhere has no known way."""
    if other.elsewhere or other.studio_id == studio_id:
        return other.span
    way_there = world.travel.get((studio_id, other.studio_id), 0)
    return other.span[0] - way_there, other.span[1] + world.travel.get((other.studio_id, studio_id), 0)


def _says(world: World, ask: Ask, person_id: int, other: Engagement) -> str:
    """Who has what, and until when."""
    studio = world.studios[ask.studio_id]
    who = world.names.get(person_id, said("The person"))
    hours = between(*other.span, studio)
    if other.elsewhere:
        return said("{who} is busy in their own calendar from {hours}", who=who, hours=hours)
    where = said(" at {studio}", studio=other.studio) if other.studio_id != studio.id else ""
    after = _away(world, studio.id, other)[1] - other.span[1]
    way = said(", and {minutes} min on the way", minutes=after) if after else ""
    return said(
        "{who} has {what}{where} from {hours}{way}",
        who=who,
        what=other.what,
        where=where,
        hours=hours,
        way=way,
    )
