"""What somebody has to do at the equipment of a studio, and when: one reading for the round, mails and feeds.

what is held --phases--> what is lit, loaded, started, unloaded, charged
kiln jobs --------------> what is washed, prepared and cold worked for their loads
outages, refills -----> what is taken out of use, what is brought
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from django.db.models import Q

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment, whole_day
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.models import JobStep, Outage, Refill, RefillStatus
from scheduling.selectors.held import HeldSpan, Viewer, promised_between
from scheduling.wording import now_said
from studios.models import Equipment, EquipmentKind, Studio
from studios.said import marked, said
from studios.thermal import Phase


class Does(StrEnum):
    """What is done, in the trade's words."""

    LIGHT = marked("light")
    SWITCH_ON = marked("switch on")
    LOAD = marked("load")
    PURGE = marked("purge and check")
    START_SOAK = marked("start the soak")
    UNLOAD = marked("unload")
    TURN_UP = marked("turn up")
    CHARGE = marked("charge")
    TAKE_OUT = marked("take out of use")
    REFILL = marked("refill")
    WASH_SHELVES = marked("wash the shelves")
    PREPARE_MOULDS = marked("prepare the moulds")
    COLD_WORK = marked("cold work")


HANDWORK = {
    Handwork.WASH_SHELVES: Does.WASH_SHELVES,
    Handwork.PREPARE_MOULDS: Does.PREPARE_MOULDS,
    Handwork.COLD_WORK: Does.COLD_WORK,
}


# Done when it begins, whatever it is done to.
BEGUN = {Phase.LOADING: Does.LOAD, Phase.UNLOADING: Does.UNLOAD, Phase.CHARGING: Does.CHARGE}
# Somebody is there for all of it; what is lit or switched on goes on by itself.
ATTENDED = {Phase.LOADING, Phase.PURGE, Phase.UNLOADING, Phase.CHARGING}


@dataclass(frozen=True, kw_only=True)
class Part:
    """A duty at one thing. Its key stays the same when the hour moves, as long as what it is for stands."""

    key: str
    name: str


@dataclass(frozen=True, kw_only=True)
class Duty:
    """Something to be done, when, for what; things that are alike are one duty of several parts.

    `face` and `uid` name what it is for: a session, a firing, a charge, bench time, an outage, a refill or a
    kiln job;
    `done`: what it is for says itself that it is done.
    """

    span: Span
    does: Does
    why: str
    face: str
    uid: UUID
    parts: tuple[Part, ...]
    changed_at: dt.datetime
    done: bool = False

    @property
    def at(self) -> dt.datetime:
        return moment(self.span[0])

    @property
    def what(self) -> str:
        """What it is done to: torch 1, torch 2, torch 3."""
        return ", ".join(part.name for part in self.parts)

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(part.key for part in self.parts)


def key_of(does: Does, uid: UUID, thing_id: int, number: int = 0) -> str:
    """How a duty is named: by what is done, what for, to what (its id), and which time within that."""
    return f"{does.replace(' ', '-')}:{uid}:{thing_id}:{number}"


def thing_of(key: str) -> tuple[str, int]:
    """What is done, and the id of what it is done to, as a key names them; ("", 0) where it names nothing."""
    parts = key.split(":")
    whole = len(parts) == 4 and parts[2].isascii() and parts[2].isdigit() and len(parts[2]) < 19
    return (parts[0].replace("-", " "), int(parts[2])) if whole else ("", 0)


def seen_by_staff(studio: Studio) -> Viewer:
    """Whoever minds the equipment of a studio may know who works at it."""
    return Viewer(person_id=0, staff_at=frozenset({studio.pk}), everywhere=False)


def duties_on(studio: Studio, day: dt.date) -> tuple[Duty, ...]:
    """What begins on a day by the studio's clock, in order of time.

    A day on which the clocks change has 23 or 25 hours.
    """
    span = whole_day(day, studio.zone)
    held = promised_between(equipment=Q(equipment__studio=studio), span=span, viewer=seen_by_staff(studio))
    return all_duties(studio, held, span)


def all_duties(studio: Studio, held: Iterable[HeldSpan], span: Span) -> tuple[Duty, ...]:
    """The duties that begin in a span: from what is held, from outages, and from what is to be brought."""
    equipment = Equipment.objects.filter(studio=studio).in_bulk()
    found = [
        *held_duties(held, equipment, span),
        *handwork_duties(studio, span),
        *_outages(studio, span),
        *_refills(studio, span),
    ]
    return tuple(sorted(found, key=lambda duty: (duty.span[0], duty.does, duty.what, duty.why)))


def held_duties(held: Iterable[HeldSpan], equipment: Mapping[int, Equipment], span: Span) -> list[Duty]:
    """What is done for what is held, begun in a span; equipment that is alike is one duty."""
    alike: dict[tuple[object, ...], list[Duty]] = defaultdict(list)
    for one in held:
        for duty in _of_one(one, equipment[one.equipment_id]):
            if span[0] <= duty.span[0] < span[1]:
                page = duty.uid if duty.face in {"session", "firing"} else None
                alike[duty.span, duty.does, duty.why, page].append(duty)
    return [_as_one(duties) for duties in alike.values()]


def _of_one(held: HeldSpan, equipment: Equipment) -> Iterator[Duty]:
    if equipment.kind == EquipmentKind.BENCH:
        return
    times: dict[Does, int] = defaultdict(int)
    before: Phase | None = None
    for phase in held.phases:
        does, before = _does(held, equipment, phase, before), phase.kind
        if does is None or (does in _ONCE and held.holder.face == "firing" and times[does]):
            continue
        yield Duty(
            span=(phase.span[0], phase.span[1] if phase.kind in ATTENDED else phase.span[0]),
            does=does,
            why=why(held),
            face=held.holder.face,
            uid=held.holder.uid,
            parts=(Part(key=key_of(does, held.holder.uid, equipment.pk, times[does]), name=equipment.name),),
            changed_at=held.changed_at,
        )
        times[does] += 1


# A controller runs all of its program by itself, and a door that is open is open.
_ONCE = {Does.SWITCH_ON, Does.LIGHT, Does.UNLOAD}


def _does(held: HeldSpan, equipment: Equipment, phase: PhaseSpan, before: Phase | None) -> Does | None:
    """Gas is lit, a kiln is switched on, and either is attended to when it begins.

    A furnace is always hot: for a charge it is turned up. An annealer is held until the last piece is in, and
    then somebody starts its soak.
    """
    if phase.kind == Phase.HEAT_UP:
        if before == Phase.HEAT_UP:
            return None
        if held.holder.face == "charge":
            return Does.TURN_UP
        return Does.LIGHT if equipment.gas_fired else Does.SWITCH_ON
    if phase.kind == Phase.PURGE:
        return Does.PURGE if equipment.kind == EquipmentKind.TORCH else None
    if phase.kind == Phase.SOAK:
        return Does.START_SOAK if before == Phase.HOLDING else None
    return BEGUN.get(phase.kind)


def why(held: HeldSpan) -> str:
    """What something is done for, and for whom."""
    holder = held.holder
    return f"{holder.title}, {holder.who}" if holder.who else holder.title


def _as_one(duties: list[Duty]) -> Duty:
    """Several at once; a furnace that is held at all its places is one thing."""
    parts = {part.key: part for duty in duties for part in duty.parts}
    first = duties[0]
    return Duty(
        span=first.span,
        does=first.does,
        why=first.why,
        face=first.face,
        uid=first.uid,
        parts=tuple(parts.values()),
        changed_at=max(duty.changed_at for duty in duties),
    )


def _outages(studio: Studio, span: Span) -> list[Duty]:
    rows = Outage.objects.filter(
        equipment__studio=studio, starts_at__gte=moment(span[0]), starts_at__lt=moment(span[1])
    )
    return [
        _of_row(Does.TAKE_OUT, row, row.starts_at, row.equipment_id, row.equipment.name, row.reason)
        for row in rows.select_related("equipment")
    ]


def handwork_duties(studio: Studio, span: Span) -> list[Duty]:
    """What is done by hand for kiln jobs, each step by itself; done once somebody has said so."""
    rows = JobStep.objects.filter(
        studio=studio, starts_at__gte=moment(span[0]), starts_at__lt=moment(span[1])
    ).select_related("job__owner", "equipment", "load__firing__equipment")
    return [_of_step(row) for row in rows.prefetch_related("of").order_by("starts_at", "pk")]


def _of_step(row: JobStep) -> Duty:
    does, job = HANDWORK[Handwork(row.does)], row.job
    return Duty(
        span=(floor_minutes(row.starts_at), ceil_minutes(row.ends_at)),
        does=does,
        why=f"{job.title}, {job.owner.name}",
        face="kiln-job",
        uid=job.uid,
        parts=(Part(key=key_of(does, row.uid, row.equipment_id or 0), name=_worked_on(row)),),
        changed_at=job.changed_at,
        done=row.done_at is not None,
    )


def _worked_on(row: JobStep) -> str:
    """At the wheel: which pieces; of shelves: in which kiln; else how many pieces."""
    labels = ", ".join(piece.label for piece in row.of.all())
    if row.equipment is not None:
        return f"{row.equipment.name}, {labels}" if labels else row.equipment.name
    pieces = now_said(said("{count} piece", several="{count} pieces", count=row.pieces))
    washed = row.does == Handwork.WASH_SHELVES and row.load is not None
    return f"{row.load.firing.equipment.name}, {pieces}" if washed and row.load is not None else pieces


def step_of(key: str) -> JobStep | None:
    """The handwork that the key of a duty names, if it is any."""
    does, _, rest = key.partition(":")
    names = {str(each).replace(" ", "-") for each in HANDWORK.values()}
    if does not in names:
        return None
    try:
        uid = UUID(rest.partition(":")[0])
    except ValueError:
        return None
    return JobStep.objects.filter(uid=uid).select_related("job__owner", "studio").first()


def _refills(studio: Studio, span: Span) -> list[Duty]:
    """Those that are planned, and those that are done already."""
    rows = Refill.objects.filter(
        supply__studio=studio, at__gte=moment(span[0]), at__lt=moment(span[1])
    ).select_related("supply")
    return [
        _of_row(Does.REFILL, row, row.at, row.supply_id, row.supply.name, now_said(said("as planned")))
        for row in rows
    ]


def _of_row(does: Does, row: Outage | Refill, at: dt.datetime, thing_id: int, name: str, reason: str) -> Duty:
    minute = floor_minutes(at)
    return Duty(
        span=(minute, minute),
        does=does,
        why=reason,
        face="outage" if isinstance(row, Outage) else "refill",
        uid=row.uid,
        parts=(Part(key=key_of(does, row.uid, thing_id), name=name),),
        changed_at=at,
        done=isinstance(row, Refill) and row.status == RefillStatus.DONE,
    )
