"""Load the demo once, whole or not at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from scheduling.management.demo import bookings, courses, people, places
from scheduling.management.demo.fair import send_the_fair
from scheduling.management.demo.files import read
from scheduling.management.demo.opened import open_what_a_class_leaves
from scheduling.management.demo.term import WEEK, Term, next_change, term_around
from scheduling.models import Message
from studios.models import Closure, Studio


@dataclass(frozen=True, kw_only=True)
class Loaded:
    """What loading did."""

    first_day: dt.date
    last_day: dt.date
    change_day: dt.date
    booked: bookings.Booked


def slugs() -> set[str]:
    """The demo's studios."""
    return {facts["slug"] for facts in read("studios")["studio"]}


def zone() -> ZoneInfo:
    """The zone of the town's clocks."""
    return ZoneInfo(read("studios")["studio"][0]["time_zone"])


def stands() -> bool:
    """Whether the demo is there. It is loaded in one transaction, so one studio of it is all of it."""
    return Studio.objects.filter(slug__in=slugs()).exists()


def loaded_term() -> Term:
    """The term of the demo that stands: its closed days, which nothing moves, tell when it began.

    Raises Closure.DoesNotExist where they are gone.
    """
    facts = read("studios")["studio"][0]
    closed = facts["closed"][0]
    day = Closure.objects.get(studio__slug=facts["slug"], reason=closed["reason"]).first_day
    since_monday = Term(monday=day).day(closed["week"], closed["from"]) - day
    return Term(monday=day - since_monday)


@transaction.atomic
def load(today: dt.date) -> Loaded:
    """Make everything and book the term; nobody is told of bookings that nobody made."""
    rule = read("term")
    change_day = next_change(zone(), today + rule["weeks_ahead"] * WEEK)
    term = term_around(change_day, rule["week_of_the_change"])
    places.make_glasses()
    places.make_studios(term)
    places.make_equipment()
    people.make_people()
    courses.make_courses()
    newest = Message.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    booked = bookings.book_term(term)
    send_the_fair(term, bookings.rows(), booked)
    open_what_a_class_leaves()
    Message.objects.filter(pk__gt=newest).update(sent_at=timezone.now())
    last_day = term.day(rule["weeks"], "sunday")
    return Loaded(first_day=term.monday, last_day=last_day, change_day=change_day, booked=booked)
