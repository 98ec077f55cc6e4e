"""Where a person's own pieces lie, and whether a person hands pieces out."""

from __future__ import annotations

from typing import Any

from django import template

from scheduling.selectors.pick_up import own_pieces
from studios.models import Person

register = template.Library()


@register.inclusion_tag("web/_my_pieces.html")
def my_pieces(person: Person) -> dict[str, Any]:
    """What waits for the person on a shelf."""
    return {"pieces": own_pieces(person)}
