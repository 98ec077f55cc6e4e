"""Earlier courses: what a course builds on, and who has taken it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db.models import Exists, OuterRef, Q, QuerySet

from scheduling.models import BookingStatus, Course, EarlierCourse, Seat, SeatStatus, Session
from studios.models import Person, Studio
from studios.selectors import people_known_at, studios_where

VOUCHES = "vouch"


def missing_courses(*, person: Person, session: Session) -> Sequence[Course]:
    """The courses that this one builds on and that a person has not taken before it begins.

    Taken is a course with a booked seat in a meeting of it that took place, or will, and is over before this
    one begins; or one for which somebody of the studio has vouched.
    """
    sat = Seat.objects.filter(
        person=person,
        status=SeatStatus.BOOKED,
        session__course=OuterRef("pk"),
        session__status=BookingStatus.BOOKED,
        session__ends_at__lte=session.starts_at,
    )
    vouched = EarlierCourse.objects.filter(person=person, course=OuterRef("pk"))
    return list(session.course.requires.filter(~Exists(sat), ~Exists(vouched)).order_by("name"))


def circle_through(course: Course, requires: Iterable[Course]) -> Sequence[Course]:
    """How a course would build on itself: from one that it requires, each on the next, back to it."""
    ways, seen = [[each] for each in requires], set()
    for way in ways:
        if way[-1] == course:
            return way
        if way[-1].pk not in seen:
            seen.add(way[-1].pk)
            ways.extend([*way, further] for further in way[-1].requires.order_by("name"))
    return ()


def asked_for_at(studio: Studio) -> QuerySet[Course]:
    """The courses of a studio that others build on."""
    return Course.objects.filter(studios=studio, leads_to__isnull=False).distinct().order_by("name")


def vouched_at(studio: Studio) -> QuerySet[EarlierCourse]:
    """What somebody has vouched for: people and courses of a studio."""
    return (
        EarlierCourse.objects.filter(course__studios=studio, person__in=people_known_at(studio))
        .select_related("person", "course", "recorded_by")
        .order_by("person__name", "person_id", "course__name")
    )


def vouched_where(person: Person) -> QuerySet[EarlierCourse]:
    """What is vouched for at the studios where a person vouches, and what is of the person."""
    studios = studios_where(person, VOUCHES)
    known = Q(person__memberships__studio__in=studios) | Q(person__ended_roles__studio__in=studios)
    return (
        EarlierCourse.objects.filter(Q(person=person) | (Q(course__studios__in=studios) & known))
        .select_related("person", "course", "recorded_by")
        .distinct()
        .order_by("person__name", "person_id", "course__name", "pk")
    )
