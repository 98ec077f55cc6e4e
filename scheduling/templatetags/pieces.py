"""Where a person's own pieces lie, and whether a person hands pieces out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import template

from scheduling.models import Collection, Piece
from scheduling.selectors.pick_up import own_pieces
from scheduling.selectors.pieces import own_made
from studios.models import Person

register = template.Library()

MOST_MADE = 20


@register.inclusion_tag("web/_my_pieces.html")
def my_pieces(person: Person) -> dict[str, Any]:
    """What waits for the person on a shelf, and each piece of the person's with how far it is."""
    made = list(own_made(person)[: MOST_MADE + 1])
    more = own_made(person).count() - MOST_MADE if len(made) > MOST_MADE else 0
    return {"pieces": own_pieces(person), "made": made[:MOST_MADE], "more_made": more}


@register.filter
def labels_of(collection: Collection, found: Mapping[int, Sequence[Piece]]) -> Sequence[Piece]:
    """The pieces that somebody collects, where they are listed one by one."""
    return found.get(collection.pk, ()) if found else ()
