"""Pieces that an instructor brings for a class: called by it, and made by those who take part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import cycle, islice

from scheduling.errors import InvalidInput
from scheduling.models import Session
from scheduling.selectors.taught import classes_taught, takes_part
from scheduling.services.kiln_jobs import LONGEST_TITLE, SizeAsked
from studios.models import Person, Studio
from studios.said import said


def made_in_class(
    actor: Person, session: Session, studio: Studio, title: str, sizes: Sequence[SizeAsked]
) -> tuple[str, list[SizeAsked]]:
    """Without a title the class is it; where no makers are named, those who take part are, each in turn.

    Raises InvalidInput.
    """
    if not classes_taught(actor).filter(pk=session.pk, studio=studio).exists():
        raise InvalidInput(
            field="session",
            problem=said("Choose a class at {studio} that you teach.", studio=studio.name),
        )
    makers = cycle(takes_part(session) or [actor])
    made = [
        size if size.makers else replace(size, makers=tuple(islice(makers, max(0, size.count))))
        for size in sizes
    ]
    return title.strip() or session.course.name[:LONGEST_TITLE], made
