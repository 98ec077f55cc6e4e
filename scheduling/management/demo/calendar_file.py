"""The calendar file of the main job, written by the command that writes anybody's and read back."""

from __future__ import annotations

import datetime as dt
from io import StringIO
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management import call_command
from icalendar import Calendar

from scheduling.management.demo.files import email_of
from scheduling.management.demo.job import Job, first_day
from scheduling.management.demo.loading import zone
from scheduling.management.wording import day_time, table


def export_week(job: Job) -> None:
    """Write the instructor's week beside the database, and tell what stands in the file."""
    key, week = job.facts["instructor"], f"{first_day():%G-W%V}"
    path = Path(settings.DATA_DIR) / f"{key}-{week}.ics"
    told = StringIO()
    call_command("export_week", person=email_of(key), week=week, output=path, stdout=told)
    job.say(told.getvalue().strip())
    for line in table(events_in(path, zone())):
        job.say(f"  {line}")


def events_in(path: Path, clocks: ZoneInfo) -> list[tuple[str, str, str]]:
    """The events of a calendar file as they read there: from, to, title. All of them have hours."""
    calendar = Calendar.from_ical(path.read_bytes())
    events = [
        (cast("dt.datetime", event.start), cast("dt.datetime", event.end), str(event["SUMMARY"]))
        for event in calendar.events
    ]
    rows = [(day_time(start, clocks), day_time(end, clocks), title) for start, end, title in sorted(events)]
    return [("from", "to", "event"), *rows]
