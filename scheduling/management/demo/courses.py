"""The demo's courses."""

from __future__ import annotations

from scheduling.management.demo.files import Facts, checked, read
from scheduling.models import Course, CourseNeed
from studios.models import GlassType, Studio

APART = ("studios", "glass", "needs")


def make_courses() -> None:
    """The kinds of class that are taught, with what they need."""
    for facts in read("courses")["course"]:
        _make_course(facts)


def _make_course(facts: Facts) -> None:
    own = {name: value for name, value in facts.items() if name not in APART}
    course = checked(Course(glass=GlassType.objects.get(slug=facts["glass"]), **own))
    course.studios.set(Studio.objects.filter(slug__in=facts["studios"]))
    for kind, count in facts["needs"].items():
        checked(CourseNeed(course=course, kind=kind, count=count))
