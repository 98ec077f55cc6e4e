"""Courses: what a kind of class needs, and where it is taught. Classes that are booked stay as they were."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduling.errors import NotAllowed
from scheduling.models import Course, CourseNeed
from scheduling.selectors.set_up import others_who_teach
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.set_up.names import free_slug
from scheduling.services.transactions import one_write
from studios.models import Person, Studio
from studios.said import said, several_said

Needs = Mapping[str, int]
# Words that stand in an address where a short name stands.
RESERVED = frozenset({"new"})


@one_write
def add_course(
    *, actor: Person, studio: Studio, course: Course, needs: Needs, requires: Iterable[Course] = ()
) -> Course:
    """A course that is taught here from now on. Raises NotAllowed or InvalidInput."""
    begin(actor, "set-up", studio)
    course.slug = free_slug(Course, course.name, RESERVED)
    checked(course).save()
    course.studios.add(studio)
    _need(course, needs)
    course.requires.set(requires)
    note(actor, studio, f"{studio.name}: the course {course.name} is taught here")
    return course


@one_write
def change_course(
    *, actor: Person, studio: Studio, course: Course, needs: Needs, requires: Iterable[Course] = ()
) -> Course:
    """A course as it is booked from now on; classes that are booked keep their hours, seats and prices.

    Where another studio teaches it, too, its manager has to set up that one as well. Raises NotAllowed or
    InvalidInput.
    """
    begin(actor, "set-up", studio)
    if others := others_who_teach(course, actor):
        raise NotAllowed(
            who=actor.name,
            what=said("change {course}", course=course.name),
            studio=several_said(others, ", ", " and "),
            role="manager",
        )
    checked(course).save()
    _need(course, needs)
    course.requires.set(requires)
    note(actor, studio, f"{studio.name}: the course {course.name} is changed")
    return course


@one_write
def teach_here(*, actor: Person, studio: Studio, course: Course) -> None:
    """A course that is taught elsewhere is taught here, too. Raises NotAllowed."""
    begin(actor, "set-up", studio)
    course.studios.add(studio)
    note(actor, studio, f"{studio.name}: the course {course.name} is taught here")


@one_write
def teach_no_more(*, actor: Person, studio: Studio, course: Course) -> None:
    """A course is booked here no longer; its classes that are booked take place. Raises NotAllowed."""
    begin(actor, "set-up", studio)
    course.studios.remove(studio)
    note(actor, studio, f"{studio.name}: the course {course.name} is no longer taught here")


def _need(course: Course, needs: Needs) -> None:
    wanted = {kind: number for kind, number in needs.items() if number}
    course.needs.exclude(kind__in=wanted).delete()
    for kind, number in wanted.items():
        row = course.needs.filter(kind=kind).first() or CourseNeed(course=course, kind=kind)
        row.count = number
        checked(row).save()
