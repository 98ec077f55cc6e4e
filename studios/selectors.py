"""Reads about studios and people."""

from __future__ import annotations

from django.db.models import Prefetch, Q, QuerySet, prefetch_related_objects

from studios.models import EndedRole, Membership, Person, Qualification, Studio
from studios.permissions import ACTIONS


def studios_of(person: Person) -> QuerySet[Studio]:
    """The studios where a person has any role; all of them for somebody who runs the server."""
    if person.is_superuser:
        return Studio.objects.all()
    return Studio.objects.filter(memberships__person=person).distinct()


def memberships_of(person: Person) -> list[Membership]:
    """The roles of a person, each with its studio; for one page a person is read once, and so are they."""
    every = Membership.objects.select_related("studio").order_by("studio__name", "studio_id", "role")
    prefetch_related_objects([person], Prefetch("memberships", queryset=every))
    return list(person.memberships.all())


def allowed_at(person: Person, action: str) -> frozenset[int]:
    """The keys of the studios where a person's own roles allow an action; nothing more is read for it."""
    return frozenset(row.studio_id for row in memberships_of(person) if row.role in ACTIONS[action])


def allowed_anywhere(person: Person, action: str) -> bool:
    """Whether somebody may do it at any studio, so that the way there is shown."""
    return (person.is_superuser and action != "teach") or bool(allowed_at(person, action))


def roles_at(person: Person, studio: Studio) -> frozenset[str]:
    """The roles of a person at a studio."""
    rows = Membership.objects.filter(person=person, studio=studio)
    return frozenset(rows.values_list("role", flat=True))


def may(person: Person, action: str, studio: Studio) -> bool:
    """Whether a person's roles at a studio allow an action of `studios.permissions`.

    Somebody who runs the server may do everything but teach.
    """
    if person.is_superuser and action != "teach":
        return True
    return not ACTIONS[action].isdisjoint(roles_at(person, studio))


def not_signed_off(person: Person, studio: Studio, kinds: set[str]) -> set[str]:
    """The kinds of equipment that a studio has not signed a person off for."""
    rows = Qualification.objects.filter(person=person, studio=studio, kind__in=kinds)
    return kinds - set(rows.values_list("kind", flat=True))


def people_known_at(studio: Studio) -> QuerySet[Person]:
    """Everybody who has a role at a studio, or had one that was ended."""
    with_role = Membership.objects.filter(studio=studio).values("person")
    without = EndedRole.objects.filter(studio=studio).values("person")
    return Person.objects.filter(Q(pk__in=with_role) | Q(pk__in=without), is_active=True)


def studios_where(person: Person, action: str) -> QuerySet[Studio]:
    """The studios where a person's roles allow an action; as `may`, of all studios at once."""
    if person.is_superuser and action != "teach":
        return Studio.objects.all()
    rows = Membership.objects.filter(person=person, role__in=ACTIONS[action])
    return Studio.objects.filter(pk__in=rows.values("studio"))


def people_with(action: str, studio: Studio) -> QuerySet[Person]:
    """The people whose role at a studio allows an action."""
    return Person.objects.filter(
        memberships__studio=studio, memberships__role__in=ACTIONS[action], is_active=True
    ).distinct()
