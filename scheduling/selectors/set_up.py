"""What a studio's set-up is asked: what holds a piece of equipment, what stands on closed days."""

from __future__ import annotations

import datetime as dt

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.engine.clock import moment, whole_day
from scheduling.models import BookingStatus, Course, Occupancy, Session
from scheduling.selectors.broken import Broken, of_occupancy
from studios.models import Closure, Equipment, Person, Studio
from studios.selectors import studios_where

SETS_UP = "set-up"
EQUIPS = "set-up-equipment"


def set_up_by(person: Person) -> QuerySet[Studio]:
    """The studios that a person sets up, or whose equipment."""
    return studios_where(person, EQUIPS).order_by("name", "id")


def may_open(person: Person) -> bool:
    """A further studio is opened by whoever runs the server, or manages a studio that there is already."""
    return person.is_superuser or studios_where(person, SETS_UP).exists()


def holding(equipment: Equipment) -> QuerySet[Occupancy]:
    """What holds a piece of equipment now or later, so that it cannot be taken away from under it."""
    return equipment.occupancies.filter(exclusive_to__gt=timezone.now()).order_by("exclusive_from", "pk")


def held_ahead(equipment: Equipment, most: int) -> list[Broken]:
    """The first of these as what they are: the class, the bench time, the firing, the charge."""
    related = (
        "equipment__studio",
        "booking__session__course",
        "booking__session__studio",
        "firing",
        "charge",
    )
    seats = ("booking__session__instructor", "booking__seat__person", "booking__seat__torch")
    rows = holding(equipment).select_related(*related, *seats)
    found = [each for row in rows[:most] for each in of_occupancy(row, "")]
    return found[:most]


def standing_on(closure: Closure) -> QuerySet[Session]:
    """The classes to come on closed days; they stand until somebody moves them or calls them off."""
    zone = closure.studio.zone
    return _standing(closure.studio).filter(
        starts_at__lt=moment(whole_day(closure.last_day, zone)[1]),
        ends_at__gt=moment(whole_day(closure.first_day, zone)[0]),
    )


def _standing(studio: Studio) -> QuerySet[Session]:
    ahead = Session.objects.filter(studio=studio, status=BookingStatus.BOOKED, ends_at__gt=timezone.now())
    return ahead.select_related("course", "studio").order_by("starts_at", "pk")


def has_booked_ahead(studio: Studio) -> bool:
    """Whether anything is booked there from now on."""
    return Occupancy.objects.filter(equipment__studio=studio, exclusive_to__gt=timezone.now()).exists()


def courses_here(studio: Studio) -> QuerySet[Course]:
    """The courses that are taught at a studio."""
    rows = Course.objects.filter(studios=studio, active=True).select_related("glass")
    return rows.prefetch_related("needs", "studios").order_by("name")


def courses_elsewhere(studio: Studio) -> QuerySet[Course]:
    """The courses of the network that are not taught here, and could be."""
    rows = Course.objects.filter(active=True).exclude(studios=studio)
    return rows.select_related("glass").prefetch_related("studios", "needs").order_by("name")


def others_who_teach(course: Course, person: Person) -> list[str]:
    """The studios where a course is taught and that this person does not set up, by name."""
    own = studios_where(person, SETS_UP)
    return list(
        course.studios.exclude(pk__in=own.values("pk")).order_by("name").values_list("name", flat=True)
    )


def coming(course: Course) -> QuerySet[Session]:
    """The classes of a course that are booked and not over."""
    return course.sessions.filter(status=BookingStatus.BOOKED, ends_at__gt=timezone.now())


def today(studio: Studio) -> dt.date:
    """The day it is by a studio's clock."""
    return timezone.now().astimezone(studio.zone).date()
