"""What the commands' arguments name; each wrong one is answered with a line that says what to type."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

from django.core.management.base import CommandError

from scheduling.engine.clock import MIDNIGHT, moment, wall_minutes
from scheduling.models import Course
from scheduling.snapshot import require_reachable
from studios.models import Equipment, EquipmentKind, GlassType, Mould, Person, Studio
from studios.thermal import FAMILIES, Glass
from studios.thermal.errors import UnknownGlass

SERVED = re.compile(r"https?://([\w.-]+|\[[0-9a-fA-F:.]+\])(:[0-9]{1,5})?(/[^\s?#]*)?")
YEAR = dt.timedelta(days=366)


def studio_named(slug: str) -> Studio:
    """A studio by its short name."""
    studio = Studio.objects.filter(slug=slug).first()
    if studio is None:
        raise CommandError(f"There is no studio {slug!r}; there are: {_listed(Studio)}.")
    return studio


def course_named(slug: str) -> Course:
    """A course by its short name."""
    course = Course.objects.filter(slug=slug).first()
    if course is None:
        raise CommandError(f"There is no course {slug!r}; there are: {_listed(Course)}.")
    return course


def person_with(email: str) -> Person:
    """A person by the address they sign in with."""
    person = Person.objects.filter(email__iexact=email).first()
    if person is None:
        raise CommandError(f"Nobody signs in as {email!r}; the admin lists everybody.")
    return person


def torch_numbered(studio: Studio, number: int) -> Equipment:
    """A torch by the number on it."""
    torches = studio.equipment.filter(kind=EquipmentKind.TORCH)
    torch = torches.filter(number=number).first()
    if torch is None:
        known = ", ".join(str(known) for known in torches.order_by("number").values_list("number", flat=True))
        raise CommandError(f"{studio} has no torch {number}; its torches: {known or 'none'}.")
    return torch


def equipment_named(studio: Studio, name: str) -> Equipment:
    """A piece of equipment by its name."""
    equipment = studio.equipment.filter(name__iexact=name).first()
    if equipment is None:
        known = ", ".join(studio.equipment.order_by("name").values_list("name", flat=True))
        raise CommandError(f"{studio} has no equipment {name!r}; it has: {known or 'none yet'}.")
    return equipment


def mould_named(studio: Studio, name: str) -> Mould:
    """A form of mould by its name."""
    mould = studio.moulds.filter(name__iexact=name.strip()).first()
    if mould is None:
        known = ", ".join(studio.moulds.order_by("name").values_list("name", flat=True))
        raise CommandError(f"{studio} has no mould {name!r}; it has: {known or 'none yet'}.")
    return mould


def glass_row(slug: str) -> GlassType:
    """A glass of the book by its short name. Raises UnknownGlass."""
    row = GlassType.objects.filter(slug=slug).first()
    if row is None:
        known = GlassType.objects.order_by("slug").values_list("slug", flat=True)
        raise UnknownGlass(field="glass", value=slug, known=", ".join(known))
    return row


def glass_named(slug: str) -> Glass:
    """A glass of the book by its short name, else a family. Raises UnknownGlass."""
    row = GlassType.objects.filter(slug=slug).first()
    if row is not None:
        return row.as_thermal()
    if slug in FAMILIES:
        return FAMILIES[slug].glass
    booked = GlassType.objects.order_by("slug").values_list("slug", flat=True)
    raise UnknownGlass(field="glass", value=slug, known=", ".join(dict.fromkeys((*booked, *FAMILIES))))


def instant(text: str, zone: ZoneInfo) -> dt.datetime:
    """A time as typed: with an offset an instant, without one the studio's wall clock.

    Raises NoSuchWallTime, or InvalidInput where it lies outside the book.
    """
    try:
        typed = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"{text!r} is no time; write it like 2027-03-09T18:00.") from error
    if typed.second or typed.microsecond:
        raise CommandError(f"{text!r} has seconds; a time is given to the minute, like 2027-03-09T18:00.")
    require_reachable(typed)
    return typed if typed.tzinfo else moment(wall_minutes(typed.date(), typed.time(), zone))


def day_typed(text: str) -> dt.date:
    """A day as typed. Raises InvalidInput where it, or the year after it, lies outside the book."""
    try:
        typed = dt.datetime.combine(dt.date.fromisoformat(text), MIDNIGHT)
    except ValueError as error:
        raise CommandError(f"{text!r} is no day; write it like 2027-03-09.") from error
    require_reachable(typed)
    require_reachable(typed + YEAR)
    return typed.date()


def time_typed(text: str) -> dt.time:
    """A time of day as typed."""
    try:
        return dt.datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007 - a wall time has no zone
    except ValueError as error:
        raise CommandError(f"{text!r} is no time of day; write it like 18:00.") from error


def served_at(address: str) -> str:
    """Where the pages are served: http or https, a host, perhaps a port."""
    if not SERVED.fullmatch(address):
        raise CommandError(f"{address!r} is no address of pages; write it like http://127.0.0.1:8000.")
    return address


def _listed(model: type[Studio | Course]) -> str:
    return ", ".join(model.objects.order_by("slug").values_list("slug", flat=True)) or "none yet"
