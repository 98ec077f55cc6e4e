"""Who can teach a course at a studio, and who can assist: one rule for offers and for bookings."""

from __future__ import annotations

from collections import defaultdict

from scheduling.errors import InvalidInput, NotAllowed, NotQualified
from scheduling.models import Course
from studios.models import Person, Qualification, Studio
from studios.said import said
from studios.selectors import may, not_signed_off, people_with


def require_teachable(course: Course, studio: Studio, instructor: Person) -> None:
    """A course is taught where it is offered, by an instructor signed off for all equipment it needs.

    Raises InvalidInput, NotAllowed or NotQualified.
    """
    if not course.active or not course.studios.filter(pk=studio.pk).exists():
        raise InvalidInput(
            field="course",
            problem=said("{course} is not taught at {studio}.", course=course.name, studio=studio.name),
        )
    if not instructor.is_active or not may(instructor, "teach", studio):
        raise NotAllowed(
            field="instructor",
            who=instructor.name,
            what=said("teach"),
            studio=studio.name,
            role=said("instructor"),
        )
    require_signed_off(instructor, studio, {need.kind for need in course.needs.all()}, field="instructor")


def require_signed_off(person: Person, studio: Studio, kinds: set[str], field: str | None = None) -> None:
    """A studio lets somebody use the kinds of equipment that it has signed them off for. NotQualified."""
    if lacking := not_signed_off(person, studio, kinds):
        named = ", ".join(sorted(kind.replace("-", " ") for kind in lacking))
        raise NotQualified(field=field, who=person.name, kinds=named, studio=studio.name)


def could_assist(course: Course, studio: Studio, instructor: Person) -> list[Person]:
    """Who else may teach a course at a studio and is signed off for all that it needs; in a stable order."""
    if not course.assistants:
        return []
    kinds = {need.kind for need in course.needs.all()}
    others = people_with("teach", studio).exclude(pk=instructor.pk).order_by("pk")
    signed_off: dict[int, set[str]] = defaultdict(set)
    rows = Qualification.objects.filter(studio=studio, kind__in=kinds, person__in=others)
    for person, kind in rows.values_list("person_id", "kind"):
        signed_off[person].add(kind)
    return [person for person in others if signed_off[person.pk] >= kinds]
