"""The events of a studio's calendar: its classes, firings, bench time, charges and outages, and its duties.

What is held, and what is done for it, leans on what is booked beside it, and nothing says when that moved an
hour. So such an event is named by what it says: with another hour it is another event, never the old one
changed behind the back of its LAST-MODIFIED.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.ical.event import CalendarEvent, EventKind
from scheduling.models import AuditEntry, BookingStatus, Charge, Firing, Load, Outage, Seat, Session
from scheduling.selectors.calendar_events import ALARM_MIN, firing_event, place_of, seat_event
from scheduling.selectors.duties import Duty, handwork_duties, held_duties
from scheduling.selectors.held import HeldSpan, Viewer, promised_between
from scheduling.selectors.own_events import class_events, firings_in
from scheduling.wording import when
from studios.models import Equipment, Studio

KIND_OF_FACE = {
    "session": EventKind.CLASS,
    "bench": EventKind.SEAT,
    "firing": EventKind.FIRING,
    "charge": EventKind.CHARGE,
    "kiln-job": EventKind.DUTY,
}
SHEET = ("week",)


def studio_events(
    studio: Studio, viewer: Viewer, from_at: dt.datetime, to_at: dt.datetime
) -> Iterator[CalendarEvent]:
    """What happens at a studio, in no order; people are named only as the sheet names them to the reader."""
    sessions = Session.objects.filter(studio=studio)
    yield from class_events(sessions, from_at, to_at, whole_series=True)
    for firing in firings_in(from_at, to_at).filter(equipment__studio=studio):
        yield firing_event(firing, _whose(firing, viewer), named=partial(_named, viewer, studio))
    for seat in _bench_time(studio, from_at, to_at):
        yield _bench_event(seat, viewer)
    yield from map(_charge_event, _charges(studio, from_at, to_at))
    yield from map(_outage_event, _outages(Q(equipment__studio=studio), from_at, to_at))


def equipment_events(
    equipment: Equipment, viewer: Viewer, from_at: dt.datetime, to_at: dt.datetime
) -> Iterator[CalendarEvent]:
    """What holds one piece of equipment, heat-up included, and when it is out of use."""
    span = floor_minutes(from_at), ceil_minutes(to_at)
    for held in promised_between(equipment=Q(equipment=equipment), span=span, viewer=viewer):
        yield _held_event(held, equipment)
    yield from map(_outage_event, _outages(Q(equipment=equipment), from_at, to_at))


def duty_events(
    studio: Studio,
    viewer: Viewer,
    from_at: dt.datetime,
    to_at: dt.datetime,
    *,
    alarm_min: int | None = ALARM_MIN,
) -> Iterator[CalendarEvent]:
    """What is lit, switched on, loaded, started, unloaded and charged; what is alike is one duty."""
    span = floor_minutes(from_at), ceil_minutes(to_at)
    equipment = Equipment.objects.filter(studio=studio).in_bulk()
    held = promised_between(equipment=Q(equipment__studio=studio), span=span, viewer=viewer)
    for duty in (*held_duties(held, equipment, span), *handwork_duties(studio, span)):
        yield _duty_event(duty, studio, alarm_min)


def _page(face: str, uid: uuid.UUID) -> tuple[str, ...]:
    if face == "kiln-job":
        return ("kiln-jobs-job", str(uid))
    return (face, str(uid)) if face in {"session", "firing"} else SHEET


def _duty_event(duty: Duty, studio: Studio, alarm_min: int | None) -> CalendarEvent:
    return _named_by_what_it_says(
        CalendarEvent(
            uid="",
            kind=EventKind.DUTY,
            title=f"{duty.does.capitalize()}: {duty.what}",
            description=f"For: {duty.why}.",
            starts_at=moment(duty.span[0]),
            ends_at=moment(duty.span[1]),
            sequence=0,
            changed_at=duty.changed_at,
            opaque=duty.span[0] < duty.span[1],
            alarm_min=alarm_min,
            page=_page(duty.face, duty.uid),
            **place_of(studio),
        )
    )


def _named_by_what_it_says(event: CalendarEvent) -> CalendarEvent:
    ends = (event.starts_at.isoformat(), event.ends_at.isoformat())
    said = "\n".join((event.kind, event.title, event.description, *ends, *event.page))
    return replace(event, uid=str(uuid.uuid5(uuid.NAMESPACE_OID, said)))


def _held_event(held: HeldSpan, equipment: Equipment) -> CalendarEvent:
    """What nobody else can have it for; a firing runs beside what else its people do."""
    kind = KIND_OF_FACE[held.holder.face]
    begin, end = held.span if kind == EventKind.FIRING else held.exclusive
    place = f", place {held.place}" if equipment.places > 1 else ""
    return _named_by_what_it_says(
        CalendarEvent(
            uid="",
            kind=kind,
            title=f"{held.holder.title}{place}",
            description="\n".join(_held_lines(held, equipment)),
            starts_at=moment(begin),
            ends_at=moment(end),
            sequence=0,
            changed_at=held.changed_at,
            opaque=kind != EventKind.FIRING,
            page=_page(held.holder.face, held.holder.uid),
            **place_of(equipment.studio),
        )
    )


def _held_lines(held: HeldSpan, equipment: Equipment) -> Iterator[str]:
    if held.holder.who:
        yield f"{equipment.name}, for {held.holder.who}."
    else:
        yield f"{equipment.name}."
    for phase in held.phases:
        yield f"{phase.kind.value.capitalize()} from {when(moment(phase.span[0]), equipment.studio)}."


def _named(viewer: Viewer, studio: Studio, load: Load) -> bool:
    of_class = load.session_id is not None
    return viewer.sees_owner(load.owner_id, studio.pk, of_class=of_class)


def _whose(firing: Firing, viewer: Viewer) -> Iterator[str]:
    studio_id = firing.equipment.studio_id
    owners = dict.fromkeys(
        load.owner.name
        for load in firing.loads.all()
        if viewer.sees_owner(load.owner_id, studio_id, of_class=load.session_id is not None)
    )
    if owners:
        yield f"Pieces of {', '.join(owners)}."


def _bench_time(studio: Studio, from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[Seat]:
    """Torches in open bench time, also those that were given back; what was only kept is no engagement."""
    seats = Seat.objects.filter(studio=studio, session__isnull=True, kept_until__isnull=True)
    met = seats.filter(starts_at__lt=to_at, ends_at__gt=from_at)
    return met.select_related("person", "torch", "studio", "session")


def _bench_event(seat: Seat, viewer: Viewer) -> CalendarEvent:
    shown = seat.person_id == viewer.person_id or viewer.sees_names_at(seat.studio_id)
    return replace(seat_event(seat), description=f"For {seat.person.name}." if shown else "", page=SHEET)


def _charges(studio: Studio, from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[Charge]:
    charges = Charge.objects.charges().filter(furnace__studio=studio)
    met = charges.filter(starts_at__lt=to_at, ends_at__gt=from_at)
    return met.select_related("furnace__studio", "booked_by")


def _charge_event(charge: Charge) -> CalendarEvent:
    return CalendarEvent(
        uid=str(charge.uid),
        kind=EventKind.CHARGE,
        title=f"Charge of {charge.furnace.name}",
        description=f"Booked by {charge.booked_by.name}.",
        starts_at=charge.starts_at,
        ends_at=charge.ends_at,
        sequence=charge.sequence,
        changed_at=charge.changed_at,
        opaque=True,
        cancelled=charge.status == BookingStatus.CANCELLED,
        page=SHEET,
        **place_of(charge.furnace.studio),
    )


def _outages(of: Q, from_at: dt.datetime, to_at: dt.datetime) -> Iterable[Outage]:
    """Each with when something was last done to it, as the audit has it."""
    noted = AuditEntry.objects.filter(subject=OuterRef("uid")).order_by().values("subject")
    last = Subquery(noted.annotate(last=Max("at")).values("last"))
    met = Outage.objects.filter(of, starts_at__lt=to_at, ends_at__gt=from_at)
    return met.select_related("equipment__studio").annotate(changed_at=Coalesce(last, "starts_at"))


def _outage_event(outage: Outage) -> CalendarEvent:
    return _named_by_what_it_says(
        CalendarEvent(
            uid="",
            kind=EventKind.OUTAGE,
            title=f"Out of use: {outage.equipment.name}",
            description=outage.reason,
            starts_at=outage.starts_at,
            ends_at=outage.ends_at,
            sequence=0,
            changed_at=getattr(outage, "changed_at"),  # noqa: B009 - annotated
            opaque=True,
            page=SHEET,
            **place_of(outage.equipment.studio),
        )
    )
