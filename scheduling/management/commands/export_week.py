"""Write one ISO week, a month or a term of a person's calendar as an iCalendar file."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.errors import InvalidInput
from scheduling.ical.event import CalendarFile
from scheduling.ical.writer import calendar_bytes
from scheduling.management.base import HouseCommand
from scheduling.selectors.calendar import month_calendar, term_calendar, week_calendar
from studios.models import Person, Term

WEEK = re.compile(r"([0-9]{4})-W([0-9]{2})")
MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")


class Command(HouseCommand):
    help = "Write one ISO week of a person's calendar, or a month or a term of it, as an iCalendar file."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--person", required=True, metavar="EMAIL", help="whose calendar")
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument("--week", metavar="YEAR-Wnn", help="ISO week, such as 2027-W10")
        which.add_argument("--month", metavar="YEAR-nn", help="month, such as 2027-03")
        which.add_argument("--term", metavar="STUDIO/NAME", help="term of a studio, by its short name")
        parser.add_argument(
            "--output", type=Path, metavar="FILE", help="where to write it; else to the screen"
        )

    def handle(
        self,
        *,
        person: str,
        week: str | None,
        month: str | None,
        term: str | None,
        output: Path | None,
        **_options: Any,
    ) -> None:
        content = calendar_bytes(_calendar(_person(person), week=week, month=month, term=term))
        if output is None:
            self.stdout.write(content.decode(), ending="")
            return
        try:
            output.write_bytes(content)
        except OSError as error:
            raise CommandError(f"{output} cannot be written: {error.strerror}.") from error
        events = content.count(b"BEGIN:VEVENT")
        self.stdout.write(f"{events} events of {week or month or term} in {output}")


def _person(email: str) -> Person:
    found = Person.objects.filter(email__iexact=email).first()
    if found is None:
        raise CommandError(f"Nobody has the address {email}.")
    return found


def _calendar(person: Person, *, week: str | None, month: str | None, term: str | None) -> CalendarFile:
    """The days that were asked for; what cannot be had is said."""
    try:
        if week is not None:
            year, number = _numbers(WEEK, week, f"{week} is no ISO week; write 2027-W10.")
            return week_calendar(person=person, year=year, week=number)
        if month is not None:
            year, number = _numbers(MONTH, month, f"{month} is no month; write 2027-03.")
            return month_calendar(person=person, year=year, month=number)
    except InvalidInput as error:
        raise CommandError(str(error)) from error
    return term_calendar(person=person, term=_term(term or ""))


def _numbers(form: re.Pattern[str], text: str, otherwise: str) -> tuple[int, int]:
    written = form.fullmatch(text)
    if written is None:
        raise CommandError(otherwise)
    return int(written[1]), int(written[2])


def _term(text: str) -> Term:
    studio, _, name = text.partition("/")
    found = Term.objects.filter(studio__slug=studio, name=name).select_related("studio").first()
    if found is None:
        raise CommandError(f"There is no term {text}; write its studio and its name, as hot-shop/Spring.")
    return found
