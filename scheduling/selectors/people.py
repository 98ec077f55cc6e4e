"""The people of a studio, as its manager reads them, and a person's own roles."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import BookingStatus, Seat, Session
from studios.models import EndedRole, Membership, Person, Studio
from studios.selectors import people_known_at


@dataclass(frozen=True, kw_only=True)
class OfStudio:
    """Somebody with a role at a studio: the roles, and how much of theirs is to come there."""

    person: Person
    roles: tuple[Membership, ...]
    classes: int
    seats: int

    @property
    def is_new(self) -> bool:
        return any(role.new_since for role in self.roles)


@dataclass(frozen=True, kw_only=True)
class StudioPeople:
    """A studio with its people, the new ones first, and those who may be given a role."""

    studio: Studio
    people: tuple[OfStudio, ...]
    known: QuerySet[Person]


def people_of(studio: Studio) -> StudioPeople:
    """Everybody with a role at a studio, the new ones first, then by name."""
    rows = Membership.objects.filter(studio=studio, person__is_active=True).select_related("person")
    classes, seats = _classes_ahead(studio), _seats_ahead(studio)
    found = [
        OfStudio(
            person=roles[0].person,
            roles=roles,
            classes=classes.count(person_id),
            seats=seats.count(person_id),
        )
        for person_id, roles in _by_person(rows.order_by("person__name", "person_id", "id"))
    ]
    return StudioPeople(
        studio=studio,
        people=tuple(sorted(found, key=lambda one: not one.is_new)),
        known=people_known_at(studio),
    )


def _by_person(rows: Iterable[Membership]) -> list[tuple[int, tuple[Membership, ...]]]:
    return [(person_id, tuple(group)) for person_id, group in groupby(rows, lambda row: row.person_id)]


def _classes_ahead(studio: Studio) -> list[int]:
    ahead = Session.objects.filter(studio=studio, status=BookingStatus.BOOKED, starts_at__gt=timezone.now())
    return list(ahead.values_list("instructor_id", flat=True))


def _seats_ahead(studio: Studio) -> list[int]:
    ahead = Seat.objects.filter(studio=studio, status=BookingStatus.BOOKED, starts_at__gt=timezone.now())
    return list(ahead.values_list("person_id", flat=True))


def roles_of(person: Person) -> QuerySet[Membership]:
    """A person's roles, by studio."""
    return Membership.objects.filter(person=person).select_related("studio").order_by("studio__name", "role")


def joinable_by(person: Person) -> QuerySet[Studio]:
    """Where somebody may become a student: no role there, and none that was ended."""
    rows = Membership.objects.filter(person=person).values("studio")
    ended = EndedRole.objects.filter(person=person).values("studio")
    return Studio.objects.exclude(pk__in=rows).exclude(pk__in=ended).order_by("name")
