"""Refills: deliveries and change-overs of supplies, and the change-overs that classes bring."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.records import ChangeOver
from scheduling.engine.stores import unneeded
from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import Booking, Refill, RefillStatus
from scheduling.selectors.stores import RunsDry, what_runs_dry
from scheduling.services import audit
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import require_reachable
from scheduling.stored import stores_of
from scheduling.wording import when
from studios.models import Person, Studio, Supply
from studios.said import said
from studios.selectors import may, people_with


@one_write
def record_refill(
    *,
    actor: Person,
    supply: Supply,
    at: dt.datetime,
    content_after: float | None = None,
    planned: Refill | None = None,
) -> Refill:
    """Record a delivery or a change-over, done or to come: from then on the supply has this content.

    Without `content_after` it is full. `planned` is the change-over or delivery that this was. What is booked
    stays, also where less came than was planned. Raises NotAllowed or InvalidInput.
    """
    if not may(actor, "refill", supply.studio):
        raise NotAllowed(
            who=actor.name, what=said("record a refill"), studio=supply.studio.name, role=said("technician")
        )
    _require_whole_minute(at)
    content = _content(supply, content_after)
    lock(supplies=[supply.pk])
    row = _planned(supply, planned) or Refill(supply=supply)
    if supply.refills.filter(at=at).exclude(pk=row.pk).exists():
        raise InvalidInput(
            field="at",
            problem=said("A refill of {supply} is entered for this minute already.", supply=supply.name),
        )
    row.at, row.content_after, row.recorded_by = at, content, actor
    row.status = RefillStatus.DONE if at <= timezone.now() else RefillStatus.PLANNED
    row.recorded_at, row.booking = timezone.now(), None
    row.save()
    drop_unneeded([supply.pk])
    _note(actor, "refill" if row.status == RefillStatus.DONE else "plan-refill", row)
    return row


@one_write
def strike_refill(*, actor: Person, refill: Refill) -> tuple[RunsDry, ...]:
    """Strike a delivery or change-over that was planned and does not come.

    What is booked stays, also what then runs dry: that is the answer. Raises NotAllowed or Over.
    """
    supply = refill.supply
    if not may(actor, "refill", supply.studio):
        raise NotAllowed(
            who=actor.name, what=said("strike a refill"), studio=supply.studio.name, role=said("technician")
        )
    lock(supplies=[supply.pk])
    row = supply.refills.filter(pk=refill.pk).first()
    if row is None or row.status != RefillStatus.PLANNED:
        raise Over(
            what=said("This refill of {supply}", supply=supply.name),
            why=said("is done") if row else said("is struck already"),
        )
    _note(actor, "strike-refill", row)
    row.delete()
    return what_runs_dry(stores_of([supply], floor_minutes(timezone.now()))[supply.pk])


def _note(actor: Person, did: str, row: Refill) -> None:
    supply = row.supply
    noted = (
        f"{supply.name}, {row.content_after:g} {supply.content_unit} from {when(row.at, supply.studio)} on"
    )
    audit.note(actor=actor, did=did, subject=row, studio=supply.studio, said=noted)


def _require_whole_minute(at: dt.datetime) -> None:
    """Raises InvalidInput."""
    require_reachable(at)
    if moment(floor_minutes(at)) != at:
        raise InvalidInput(field="at", problem=said("A refill is given to the minute, without seconds."))


def _content(supply: Supply, content_after: float | None) -> float:
    if supply.content is None:
        raise InvalidInput(
            field="supply",
            problem=said("{supply} has no content: it comes through a line.", supply=supply.name),
        )
    content = supply.content if content_after is None else content_after
    if not 0 <= content <= supply.content:
        raise InvalidInput(
            field="content_after",
            problem=said(
                "{supply} holds from 0 to {content:g} {content_unit}.",
                supply=supply.name,
                content=supply.content,
                content_unit=supply.content_unit,
            ),
        )
    return content


def _planned(supply: Supply, planned: Refill | None) -> Refill | None:
    """The planned refill as it stands now; one that is done already is not recorded twice."""
    if planned is None:
        return None
    row = supply.refills.filter(pk=planned.pk, status=RefillStatus.PLANNED).first()
    if row is None:
        raise InvalidInput(field="planned", problem=said("This is no planned refill of this supply."))
    return row


def write_change_overs(booking: Booking, change_overs: Iterable[ChangeOver]) -> None:
    """The change-overs that a booking brings are planned with it, and whoever does them is told."""
    for change in change_overs:
        refill = Refill.objects.create(
            supply_id=change.supply_id,
            at=moment(change.at),
            content_after=change.content,
            recorded_by=booking.booked_by,
            booking=booking,
        )
        _tell_due(booking.studio, refill)


def _tell_due(studio: Studio, refill: Refill) -> None:
    for person in people_with("refill", studio):
        tell(
            person=person,
            subject=said("Change over {supply}", supply=refill.supply.name),
            body=said(
                "{supply} at {studio} has to be changed over to full cylinders by {when}: what is left "
                "would not last for what is booked.",
                supply=refill.supply.name,
                studio=studio.name,
                when=when(refill.at, studio),
            ),
        )


def drop_unneeded(supply_ids: Iterable[int]) -> None:
    """Change-overs to come that bookings brought, and that nothing needs any more, are taken off the list."""
    now = timezone.now()
    brought = Refill.objects.filter(
        supply__in=set(supply_ids), status=RefillStatus.PLANNED, booking__isnull=False, at__gt=now
    )
    rows = {(row.supply_id, floor_minutes(row.at)): row for row in brought}
    supplies = Supply.objects.filter(pk__in={key for key, _ in rows})
    for supply_id, store in stores_of(supplies, floor_minutes(now)).items():
        for minute in unneeded(store, [at for key, at in rows if key == supply_id]):
            rows[supply_id, minute].delete()
