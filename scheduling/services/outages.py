"""Outages: equipment that is out of use; entered, ended early, or withdrawn.

What leant on heat across an outage is lit anew in the same transaction; what stays broken is listed by
`selectors.broken` and repaired by moving it.
"""

from __future__ import annotations

import datetime as dt

from django.db.models import Q
from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.heat import HOT_STATIONS
from scheduling.engine.records import Kind
from scheduling.engine.spans import Span
from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import Outage
from scheduling.services import audit
from scheduling.services.booking import whole_minute
from scheduling.services.holding import refit_across
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import horizon_around, load_world
from scheduling.wording import when
from studios.models import Draw, Equipment, Person
from studios.said import said
from studios.selectors import may

LONGEST_REASON = 120


@one_write
def enter_outage(
    *, actor: Person, equipment: Equipment, starts_at: dt.datetime, ends_at: dt.datetime, reason: str
) -> Outage:
    """Take equipment out of use for some hours: nothing new is booked on it then.

    Bookings that stand are kept; whoever enters the outage sees them. A class that would have found its
    station warm from before it is lit earlier, where there is room. Raises NotAllowed or InvalidInput.
    """
    require_may_enter(actor, equipment)
    if whole_minute(ends_at) <= whole_minute(starts_at):
        raise InvalidInput(field="ends_at", problem=said("An outage ends after it starts."))
    if not 0 < len(reason.strip()) <= LONGEST_REASON:
        raise InvalidInput(
            field="reason",
            problem=said(
                "Say why, in at most {longest_reason} characters, for the sheet.",
                longest_reason=LONGEST_REASON,
            ),
        )
    lock_stations(equipment)
    outage = Outage.objects.create(
        equipment=equipment, starts_at=starts_at, ends_at=ends_at, reason=reason.strip(), entered_by=actor
    )
    refit_around(outage)
    _note(actor, outage, "enter-outage")
    return outage


@one_write
def end_outage(*, actor: Person, outage: Outage, ends_at: dt.datetime | None = None) -> Outage:
    """Equipment is in use again before its outage was to end: now, unless another minute is given.

    Raises NotAllowed, InvalidInput or Over.
    """
    at = moment(ceil_minutes(timezone.now())) if ends_at is None else moment(whole_minute(ends_at))
    outage = _taken_up(actor, outage)
    if outage.ends_at <= timezone.now():
        raise Over(what=said("The outage"), why=said("is over already"))
    if at <= outage.starts_at:
        raise InvalidInput(
            field="ends_at", problem=said("It ends after it starts; one that never was is withdrawn.")
        )
    if at >= outage.ends_at:
        raise InvalidInput(
            field="ends_at", problem=said("It ends then or sooner already; enter another outage.")
        )
    was = floor_minutes(outage.starts_at), ceil_minutes(outage.ends_at)
    outage.ends_at = at
    outage.save(update_fields=["ends_at"])
    _refit(outage.equipment, was)
    _note(actor, outage, "end-outage")
    return outage


@one_write
def withdraw_outage(*, actor: Person, outage: Outage) -> Outage:
    """An outage that does not come, or was a mistake, is struck: it is as if it had never been entered.

    What has been can only be ended. Raises NotAllowed or Over.
    """
    outage = _taken_up(actor, outage)
    if outage.ends_at <= timezone.now():
        raise Over(what=said("The outage"), why=said("is over, and stands for what was"))
    _note(actor, outage, "withdraw-outage")
    Outage.objects.filter(pk=outage.pk).delete()
    refit_around(outage)
    return outage


def _taken_up(actor: Person, outage: Outage) -> Outage:
    """The outage as it stands, its station locked. Raises NotAllowed or Over."""
    require_may_enter(actor, outage.equipment)
    lock_stations(outage.equipment)
    row = Outage.objects.filter(pk=outage.pk).select_related("equipment__studio").first()
    if row is None:
        raise Over(what=said("The outage"), why=said("is withdrawn already"))
    return row


def require_may_enter(actor: Person, equipment: Equipment) -> None:
    """Who looks after equipment enters its outages, and sees what they break. Raises NotAllowed."""
    if not may(actor, "enter-outage", equipment.studio):
        raise NotAllowed(
            who=actor.name,
            what=said("enter an outage"),
            studio=equipment.studio.name,
            role=said("technician"),
        )


def lock_stations(*equipment: Equipment) -> None:
    """Lock equipment with the bench and pipe warmer that are held with it, and what they draw on."""
    station = Equipment.objects.filter(Q(pk__in=[one.pk for one in equipment]) | Q(station__in=equipment))
    supplies = Draw.objects.filter(equipment__in=station).values_list("supply_id", flat=True)
    lock(supplies=supplies, equipment=station.values_list("pk", flat=True))


def refit_around(outage: Outage) -> None:
    """What is hot before and after an outage is laid anew, once the outage is as it now is, or gone."""
    _refit(outage.equipment, (floor_minutes(outage.starts_at), ceil_minutes(outage.ends_at)))


def _refit(equipment: Equipment, span: Span) -> None:
    """Only glory holes and pipe warmers lend heat from one class to the next."""
    if Kind(equipment.kind) in HOT_STATIONS:
        world = load_world([equipment.studio], horizon_around(moment(span[1])))
        refit_across(world, equipment.pk, span)


def _note(actor: Person, outage: Outage, did: str) -> None:
    equipment, studio = outage.equipment, outage.equipment.studio
    hours = f"{when(outage.starts_at, studio)} to {when(outage.ends_at, studio)}"
    noted = f"{equipment.name} at {studio.name} out of use, {hours}: {outage.reason}"
    audit.note(actor=actor, did=did, subject=outage, studio=studio, said=noted)
