"""Waiting lines as people see them: who stands where, what is offered and until when."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from scheduling.models import BookingStatus, LineStatus, Session, WaitingPlace
from scheduling.selectors.least import below_least, booked_in
from studios.models import Person
from studios.selectors import studios_where

WAITS_FOR_OTHERS = "reserve-for-others"


@dataclass(frozen=True, kw_only=True)
class LineAt:
    """The line of one session as one person sees it; `booked` counts what is booked, not what is kept."""

    waiting: int
    mine: WaitingPlace | None
    booked: int
    below_least: bool


def standing_places(path: str = "") -> Q:
    """Who waits, or is offered a seat whose deadline has not passed; a lapsed offer is void at once."""
    until = {f"{path}status": LineStatus.OFFERED, f"{path}seat__kept_until__gt": timezone.now()}
    return Q(**{f"{path}status": LineStatus.WAITING}) | Q(**until)


def line_at(session: Session, person: Person) -> LineAt:
    """What a person sees of the line of a session."""
    places = WaitingPlace.objects.filter(standing_places(), session=session)
    mine = places_of(person).filter(session=session).first()
    booked = booked_in(session)
    return LineAt(
        waiting=places.count(),
        mine=mine,
        booked=booked,
        below_least=below_least(session, booked),
    )


def waits_of(person: Person) -> list[WaitingPlace]:
    """Where a person waits and is offered nothing yet, in order of time."""
    return list(places_of(person).filter(status=LineStatus.WAITING))


def places_of(person: Person) -> QuerySet[WaitingPlace]:
    """A person's places in the lines of classes to come, each with its number from the head."""
    return _numbered(WaitingPlace.objects.filter(person=person))


def places_to_change(person: Person) -> QuerySet[WaitingPlace]:
    """One's own places, and those at studios where one may reserve for others."""
    keeps = Q(session__studio__in=studios_where(person, WAITS_FOR_OTHERS))
    return _numbered(WaitingPlace.objects.filter(Q(person=person) | keeps), every=True)


def _numbered(places: QuerySet[WaitingPlace], *, every: bool = False) -> QuerySet[WaitingPlace]:
    """`number` counts those in front, and oneself; `every` has those who are out of the line, too."""
    before = (
        WaitingPlace.objects.filter(standing_places(), session=OuterRef("session"), pk__lte=OuterRef("pk"))
        .order_by()
        .values("session")
        .annotate(count=Count("pk"))
        .values("count")
    )
    number = Coalesce(Subquery(before, output_field=IntegerField()), 0)
    found = places.select_related(
        "person", "session__course", "session__studio", "session__instructor", "seat__torch", "seat__studio"
    )
    found = found.annotate(number=number).order_by("session__starts_at", "pk")
    if every:
        return found
    standing = found.filter(standing_places(), session__status=BookingStatus.BOOKED)
    return standing.filter(session__starts_at__gt=timezone.now())


def in_line_count() -> Count:
    """How many stand in the line of a session."""
    return Count("line", filter=standing_places("line__"), distinct=True)
