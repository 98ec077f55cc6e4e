"""The demo's courses."""

from __future__ import annotations

from scheduling.management.demo.files import Facts, checked, email_of, read
from scheduling.models import Course, CourseNeed, EarlierCourse
from studios.models import GlassType, Person, Studio

APART = ("studios", "glass", "needs", "requires")


def make_courses() -> None:
    """The kinds of class that are taught, with what they need."""
    file = read("courses")
    for facts in file["course"]:
        _make_course(facts)
    for facts in file["course"]:
        earlier = Course.objects.filter(slug__in=facts.get("requires", ()))
        Course.objects.get(slug=facts["slug"]).requires.set(earlier)
    for facts in file["vouched"]:
        _vouch(facts)


def _vouch(facts: Facts) -> None:
    course = Course.objects.get(slug=facts["course"])
    by = Person.objects.get(email=email_of(facts["by"]))
    for key in facts["people"]:
        person = Person.objects.get(email=email_of(key))
        checked(EarlierCourse(person=person, course=course, recorded_by=by))


def _make_course(facts: Facts) -> None:
    own = {name: value for name, value in facts.items() if name not in APART}
    course = checked(Course(glass=GlassType.objects.get(slug=facts["glass"]), **own))
    course.studios.set(Studio.objects.filter(slug__in=facts["studios"]))
    for kind, count in facts["needs"].items():
        checked(CourseNeed(course=course, kind=kind, count=count))
