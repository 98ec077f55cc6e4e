"""Outages: equipment that is out of use."""

from __future__ import annotations

import datetime as dt

from scheduling.errors import InvalidInput, NotAllowed
from scheduling.models import Outage
from scheduling.services.booking import whole_minute
from scheduling.services.transactions import lock, one_write
from studios.models import Equipment, Person
from studios.selectors import may

LONGEST_REASON = 120


@one_write
def enter_outage(
    *, actor: Person, equipment: Equipment, starts_at: dt.datetime, ends_at: dt.datetime, reason: str
) -> Outage:
    """Take equipment out of use for some hours: nothing new is booked on it then.

    Bookings that stand are kept; whoever enters the outage sees them. Raises NotAllowed or InvalidInput.
    """
    if not may(actor, "enter-outage", equipment.studio):
        raise NotAllowed(
            who=actor.name, what="enter an outage", studio=equipment.studio.name, role="technician"
        )
    if whole_minute(ends_at) <= whole_minute(starts_at):
        raise InvalidInput(field="ends_at", problem="An outage ends after it starts.")
    if not 0 < len(reason.strip()) <= LONGEST_REASON:
        raise InvalidInput(
            field="reason",
            problem=f"Say why, in at most {LONGEST_REASON} characters, for the sheet.",
        )
    lock(equipment=[equipment.pk])
    return Outage.objects.create(
        equipment=equipment, starts_at=starts_at, ends_at=ends_at, reason=reason.strip(), entered_by=actor
    )
