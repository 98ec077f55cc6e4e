"""What somebody booked or taught last: the class that they most likely want again."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q

from scheduling.models import Session
from studios.models import Person, Studio, Travel


def last_class(person: Person, studios: Iterable[Studio]) -> Session | None:
    """The class booked last by a person, or for them, at some studios; its course can still be booked."""
    own = Q(booking__booked_by=person) | Q(instructor=person)
    found = Session.objects.filter(own, studio__in=studios, course__active=True)
    return (
        found.select_related("course", "studio", "instructor").order_by("-booking__created_at", "-pk").first()
    )


def ways_between(studios: Iterable[Studio]) -> list[Travel]:
    """How long it takes from one of some studios to another, both ways."""
    rows = list(studios)
    found = Travel.objects.filter(origin__in=rows, destination__in=rows)
    return list(found.select_related("origin", "destination").order_by("origin__name", "destination__name"))
