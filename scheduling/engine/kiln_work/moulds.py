"""Moulds that other loads have: those of a plan get along with what is left of them."""

from __future__ import annotations

from scheduling.engine.kiln_work.asked import MouldAsked
from scheduling.engine.planner.loads import MouldsTaken
from scheduling.engine.spans import levels


def held_by_others(mould: MouldAsked) -> MouldsTaken:
    """When others have how many of a form. Where they have more than there are, there are none left."""
    held = ((span, float(count)) for span, count in mould.held)
    taken = tuple((span, min(int(count), mould.count)) for span, count in levels(held))
    return MouldsTaken(id=mould.id, count=mould.count, taken=taken)
