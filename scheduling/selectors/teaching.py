"""Whether a course can be taught at a studio by somebody: one rule for offers and for bookings."""

from __future__ import annotations

from scheduling.errors import InvalidInput, NotAllowed, NotQualified
from scheduling.models import Course
from studios.models import Person, Studio
from studios.selectors import may, not_signed_off


def require_teachable(course: Course, studio: Studio, instructor: Person) -> None:
    """A course is taught where it is offered, by an instructor signed off for all equipment it needs.

    Raises InvalidInput, NotAllowed or NotQualified.
    """
    if not course.active or not course.studios.filter(pk=studio.pk).exists():
        raise InvalidInput(field="course", problem=f"{course.name} is not taught at {studio.name}.")
    if not instructor.is_active or not may(instructor, "teach", studio):
        raise NotAllowed(
            field="instructor", who=instructor.name, what="teach", studio=studio.name, role="instructor"
        )
    kinds = {need.kind for need in course.needs.all()}
    if lacking := not_signed_off(instructor, studio, kinds):
        named = ", ".join(sorted(kind.replace("-", " ") for kind in lacking))
        raise NotQualified(field="instructor", who=instructor.name, kinds=named, studio=studio.name)
