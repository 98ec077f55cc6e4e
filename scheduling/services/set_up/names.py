"""Short names for addresses, made of what something is called."""

from __future__ import annotations

from itertools import count

from django.db.models import Model
from django.utils.text import slugify

LONGEST = 40


def free_slug(model: type[Model], name: str, taken: frozenset[str] = frozenset()) -> str:
    """A short name that nothing of its kind has: flame, flame-2. What no address takes is left out."""
    longest = LONGEST - 4
    stem = slugify(name)[:longest].strip("-") or "one"
    rows = model._default_manager.filter(slug__startswith=stem)  # noqa: SLF001
    known = taken | set(rows.values_list("slug", flat=True))
    tries = (stem if number == 1 else f"{stem}-{number}" for number in count(1))
    return next(each for each in tries if each not in known)
