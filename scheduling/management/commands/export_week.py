"""Write one ISO week of a person's calendar as an iCalendar file."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.errors import InvalidInput
from scheduling.ical.writer import calendar_bytes
from scheduling.management.base import HouseCommand
from scheduling.selectors.calendar import week_calendar
from studios.models import Person

WEEK = re.compile(r"([0-9]{4})-W([0-9]{2})")


class Command(HouseCommand):
    help = "Write one ISO week of a person's calendar as an iCalendar file."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--person", required=True, metavar="EMAIL", help="whose calendar")
        parser.add_argument("--week", required=True, metavar="YEAR-Wnn", help="ISO week, such as 2027-W10")
        parser.add_argument(
            "--output", type=Path, metavar="FILE", help="where to write it; else to the screen"
        )

    def handle(self, *, person: str, week: str, output: Path | None, **_options: Any) -> None:
        content = _week_of(person, week)
        if output is None:
            self.stdout.write(content.decode(), ending="")
            return
        try:
            output.write_bytes(content)
        except OSError as error:
            raise CommandError(f"{output} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"{content.count(b'BEGIN:VEVENT')} events of {week} in {output}")


def _week_of(email: str, week: str) -> bytes:
    found = Person.objects.filter(email__iexact=email).first()
    if found is None:
        raise CommandError(f"Nobody has the address {email}.")
    written = WEEK.fullmatch(week)
    if written is None:
        raise CommandError(f"{week} is no ISO week; write 2027-W10.")
    try:
        file = week_calendar(person=found, year=int(written[1]), week=int(written[2]))
    except InvalidInput as error:
        raise CommandError(str(error)) from error
    return calendar_bytes(file)
