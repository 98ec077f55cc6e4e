"""Calendars that people keep elsewhere: who has some, which hours they take, and what they meet."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection
from urllib.parse import urlsplit
from uuid import UUID

from django.db.models import (
    DateTimeField,
    DurationField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Sum,
    Value,
)
from django.db.models.functions import Greatest, Least
from django.utils import timezone

from scheduling.models import BusySpan, Charge, Firing, OtherCalendar, PersonSpan, Seat, Series, Session
from studios.models import Membership, Person
from studios.permissions import ACTIONS

ACTION = "keep-other-calendars"
SHOWN_AHEAD = dt.timedelta(weeks=4)
ASKED_AT_ONCE = 500
# What the events of a firing are named for, beside the firing itself.
OF_A_FIRING = ("unloading", "pick-up")
MADE_FROM_ANOTHER = 5  # the version of such a name (RFC 9562, 5.5)
LONG_OVER = dt.timedelta(weeks=4)


def may_keep(person: Person) -> bool:
    """Whoever may teach or assist anywhere keeps other calendars here, and nobody else needs to."""
    return person.memberships.filter(role__in=ACTIONS[ACTION]).exists()


def keepers() -> QuerySet[Membership, int]:
    """The keys of the people whose calendars are read."""
    rows = Membership.objects.filter(role__in=ACTIONS[ACTION], person__is_active=True)
    return rows.values_list("person_id", flat=True)


def host_of(calendar: OtherCalendar) -> str:
    """Where a calendar is fetched from. The rest of the link is a secret; a file comes from nowhere."""
    return urlsplit(calendar.link).hostname or ""


def with_busy_time(calendars: QuerySet[OtherCalendar], now: dt.datetime) -> QuerySet[OtherCalendar]:
    """Each with the time that it takes in the weeks to come, as `busy`; the oldest first."""
    until = now + SHOWN_AHEAD
    last = Least(F("spans__ends_at"), Value(until, output_field=DateTimeField()))
    first = Greatest(F("spans__starts_at"), Value(now, output_field=DateTimeField()))
    taken = ExpressionWrapper(last - first, output_field=DurationField())
    meets = Q(spans__ends_at__gt=now, spans__starts_at__lt=until)
    summed = calendars.annotate(busy=Sum(taken, filter=meets, default=dt.timedelta()))
    return summed.order_by("created_at", "id")


def clashing(person: Person, now: dt.datetime) -> list[Session]:
    """The classes to come that somebody teaches or assists in, and that meet hours of another calendar."""
    met = BusySpan.objects.filter(
        person=person, starts_at__lt=OuterRef("ends_at"), ends_at__gt=OuterRef("starts_at")
    )
    spans = PersonSpan.objects.filter(Exists(met), person=person, session__isnull=False, ends_at__gt=now)
    found = Session.objects.filter(pk__in=spans.values("session"))
    return list(found.select_related("course", "studio").order_by("starts_at", "pk"))


def ours_among(names: Collection[UUID]) -> set[UUID]:
    """Those of some names of events by which our own calendars call a class, a series, a seat or a firing."""
    wanted = sorted(names)
    found: set[UUID] = set()
    for at in range(0, len(wanted), ASKED_AT_ONCE):
        some = wanted[at : at + ASKED_AT_ONCE]
        for model in (Session, Series, Seat, Firing, Charge):
            found.update(model.objects.filter(uid__in=some).values_list("uid", flat=True))
    return found | _of_firings({name for name in wanted if name.version == MADE_FROM_ANOTHER})


def _of_firings(names: set[UUID]) -> set[UUID]:
    """A name that is made from that of a firing cannot be looked up, but is made again."""
    if not names:
        return names
    lately = Firing.objects.filter(unload_at__gt=timezone.now() - LONG_OVER)
    firings = lately.values_list("uid", flat=True).iterator()
    return names & {uuid.uuid5(firing, what) for firing in firings for what in OF_A_FIRING}
