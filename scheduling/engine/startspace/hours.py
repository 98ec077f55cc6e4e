"""The starts at which somebody is there, the class is over in time, and whoever it takes is free."""

from __future__ import annotations

from scheduling.engine.people import away, engaged, may_assist
from scheduling.engine.records import Ask, Duty
from scheduling.engine.spans import Span, at_least, intersect
from scheduling.engine.startspace.windows import free, inside, moving
from scheduling.engine.world import World

Spans = tuple[Span, ...]


def in_hours(world: World, ask: Ask, within: Span) -> Spans:
    """The starts within a span that the hours of the studio and of its people allow."""
    found = intersect(_staffed(world, ask), _whoever_teaches(world, ask, within))
    for latest in (world.studios[ask.studio_id].over_by, ask.over_by):
        found = intersect(found, inside(latest, moving(0), moving(ask.teach_min))) if latest else found
    return intersect(found, _assisted(world, ask, within)) if ask.assistants else found


def _staffed(world: World, ask: Ask) -> Spans:
    """Somebody of the studio is there from the set-up to the clean-up."""
    staffed = world.studios[ask.studio_id].staffed[Duty.PRESENT]
    return inside(staffed, moving(-ask.setup_min), moving(ask.teach_min + ask.cleanup_min))


def _whoever_teaches(world: World, ask: Ask, within: Span) -> Spans:
    """Whoever teaches is free from the set-up to the clean-up."""
    return free(engaged(world, ask), -ask.setup_min, ask.teach_min + ask.cleanup_min, within)


def _assisted(world: World, ask: Ask, within: Span) -> Spans:
    """Enough of those who could assist are free as long as that, whoever they are."""
    begin, end = -ask.setup_min, ask.teach_min + ask.cleanup_min
    return at_least(
        ask.assistants,
        [free(away(world, key, ask.studio_id), begin, end, within) for key in may_assist(ask)],
    )
