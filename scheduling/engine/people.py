"""One person is in one place at a time, and needs time to get from one studio to another."""

from __future__ import annotations

from scheduling.engine.records import Ask, Engagement, Reason
from scheduling.engine.spans import Span
from scheduling.engine.wording import between
from scheduling.engine.world import World


def busy(world: World, ask: Ask, start: int, span: Span) -> Reason | None:
    """What keeps a person from giving these hours: something else, or the way to or from it."""
    if ask.person_id is None:
        return None
    for engagement in world.people.get(ask.person_id, ()):
        before, after = _margins(world, ask.studio_id, engagement)
        if span[0] < engagement.span[1] + after and engagement.span[0] - before < span[1]:
            return _reason(world, ask, engagement, start - span[0], after)
    return None


def engaged(world: World, ask: Ask) -> tuple[Span, ...]:
    """The hours that a person cannot give: other engagements with the way to them and back."""
    found = []
    for other in world.people.get(ask.person_id, ()) if ask.person_id is not None else ():
        before, after = _margins(world, ask.studio_id, other)
        found.append((other.span[0] - before, other.span[1] + after))
    return tuple(found)


def _margins(world: World, studio_id: int, other: Engagement) -> tuple[int, int]:
    """Minutes of travel before the other engagement (from here to there) and after it."""
    if other.studio_id == studio_id:
        return 0, 0
    way_there = world.travel.get((studio_id, other.studio_id), 0)
    return way_there, world.travel.get((other.studio_id, studio_id), 0)


def _reason(world: World, ask: Ask, other: Engagement, lead: int, after: int) -> Reason:
    studio = world.studios[ask.studio_id]
    where = f" at {other.studio}" if other.studio_id != studio.id else ""
    way = f", and {after} min on the way" if after else ""
    free = other.span[1] + after
    return Reason(
        code="person-busy",
        sentence=(
            f"{world.names.get(ask.person_id or 0, 'The person')} has {other.what}{where} "
            f"from {between(*other.span, studio)}{way}."
        ),
        until=free,
        not_before=free + lead,
    )
