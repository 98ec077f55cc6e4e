"""Each technician gets the day's sheet once a day, at the studio's time by its own clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.utils import timezone

from scheduling.models import Message
from scheduling.selectors.duties import Duty, duties_on
from scheduling.services.messages import tell
from scheduling.services.transactions import one_write
from studios.models import Person, Role, Studio
from studios.said import Form, moment_said, said, several_said


def send_day_sheets(between: Callable[[], None] = lambda: None) -> int:
    """Send what is due at every studio; returns how many sheets. A day with nothing to do has no sheet.

    A time that the clocks jump over is due right after the jump, and a doubled one the first time. A sheet
    that nobody sent in time is sent later the same day.
    """
    sent = 0
    for studio in Studio.objects.order_by("pk"):
        now = timezone.now().astimezone(studio.zone)
        if now.time() >= studio.day_sheet_at and _without(studio, now.date()):
            between()
            sent += _send(studio, now.date())
    return sent


def _key(studio: Studio, day: dt.date) -> str:
    return f"day-sheet-{studio.pk}-{day}"


def _without(studio: Studio, day: dt.date) -> list[Person]:
    """The technicians of a studio who have not got the sheet of a day."""
    with_it = Message.objects.filter(key=_key(studio, day)).values("person")
    technicians = Person.objects.filter(
        memberships__studio=studio, memberships__role=Role.TECHNICIAN, is_active=True
    )
    return list(technicians.exclude(pk__in=with_it).distinct().order_by("pk"))


@one_write
def _send(studio: Studio, day: dt.date) -> int:
    duties = tuple(duty for duty in duties_on(studio, day) if not duty.done)
    readers = _without(studio, day)
    if not duties:
        return 0
    for person in readers:
        tell(
            person=person,
            subject=said(
                "{studio}, {day}: what is to be done",
                studio=studio.name,
                day=moment_said(day, Form.NAMED),
            ),
            body=_body(studio, duties),
            key=_key(studio, day),
        )
    return len(readers)


def _body(studio: Studio, duties: tuple[Duty, ...]) -> str:
    lines = [_said(studio, duty) for duty in duties]
    caution = said(
        "Worked out from what is booked; what stands at the equipment, the makers' instructions and local "
        "codes come first."
    )
    clock = said("Times by the clock of {studio}.", studio=studio.name)
    return several_said([clock, "", *lines, "", caution], "\n")


def _said(studio: Studio, duty: Duty) -> str:
    at = duty.at.astimezone(studio.zone)
    return said(
        "{at}  {does} {what} ({why})",
        at=moment_said(at, Form.CLOCK_ZONE),
        does=said(duty.does.value),
        what=duty.what,
        why=duty.why,
    )
