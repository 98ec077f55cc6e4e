"""What was recorded of firings, struck records too."""

from __future__ import annotations

from django.db.models import QuerySet

from scheduling.models import Actual, Firing
from studios.models import Person
from studios.selectors import studios_of


def actuals_of(firing: Firing) -> QuerySet[Actual]:
    """What was recorded of a firing, in the order in which it happened."""
    return _whole().filter(firing=firing)


def actuals_seen_by(person: Person) -> QuerySet[Actual]:
    """What was recorded at the person's studios."""
    return _whole().filter(firing__equipment__studio__in=studios_of(person))


def _whole() -> QuerySet[Actual]:
    return Actual.objects.select_related("recorded_by", "firing__equipment__studio").order_by("at", "pk")
