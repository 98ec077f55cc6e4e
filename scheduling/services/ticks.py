"""Ticks on the day's round: set, with what happened recorded in the same step, and taken back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import Actual, Tick
from scheduling.selectors.duties import Does, Part, step_of, thing_of
from scheduling.selectors.round import Line, lines_on
from scheduling.services import audit
from scheduling.services.actuals import Recorded, strike_actual, write_actual
from scheduling.services.kiln_jobs import step_done
from scheduling.services.refills import record_refill
from scheduling.services.transactions import lock, one_write
from scheduling.wording import when
from studios.models import Draw, Equipment, Person, Studio, Supply
from studios.said import said
from studios.selectors import may

LONGEST_SAID = 200


@dataclass(frozen=True, kw_only=True)
class Ticked:
    """The ticks that were set, what was recorded with them, and what to mind now that it stands."""

    ticks: tuple[Tick, ...]
    recorded: tuple[Actual, ...]
    cautions: tuple[str, ...]


@one_write
def tick_duty(
    *,
    actor: Person,
    studio: Studio,
    day: dt.date,
    duties: Sequence[str],
    record: bool = False,
    at: dt.datetime | None = None,
) -> Ticked:
    """Tick duties of a day by their keys: somebody has seen to them.

    With `record` what really happened is recorded in the same step, now or `at` a minute that was: lit,
    loaded, soak started, opened; a delivery is entered as done. A tick alone says nothing of it. Raises
    NotAllowed, Over, InvalidInput, or what recording raises.
    """
    require_ticker(actor, studio)
    if not duties:
        raise InvalidInput(field="duties", problem=said("Say which duties."))
    if day > timezone.now().astimezone(studio.zone).date():
        raise InvalidInput(
            field="day", problem=said("Only what is due by now is ticked: this day is to come.")
        )
    _lock(studio, duties)
    lines = _lines(studio, day, duties)
    for key in duties:
        _seen_to(actor, key, done=True)
    recorded = [_recorded(actor, line, at) for line in lines] if record else []
    made = tuple(
        _ticked(actor, studio, line, part, recorded[number] if record else None)
        for number, line in enumerate(lines)
        for part in line.duty.parts
        if part.key in duties
    )
    records = [one for one in recorded if one is not None]
    return Ticked(
        ticks=made,
        recorded=tuple(one.actual for one in records),
        cautions=tuple(caution for one in records for caution in one.cautions),
    )


@one_write
def take_back(*, actor: Person, ticks: Sequence[Tick]) -> None:
    """Ticks that were set by mistake count no more; what was recorded with them is struck.

    The rows stay. Raises NotAllowed, Over, or what striking raises.
    """
    for tick in ticks:
        require_ticker(actor, tick.studio)
    for studio in {tick.studio for tick in ticks}:
        _lock(studio, [tick.duty for tick in ticks if tick.studio_id == studio.pk])
    for tick in ticks:
        tick.refresh_from_db(fields=["taken_back_at", "taken_back_by"])
        if tick.taken_back_at is not None:
            raise Over(what=said("The tick “{said}”", said=tick.said), why=said("is taken back already"))
        if tick.actual is not None and tick.actual.struck_at is None:
            strike_actual(actor=actor, actual=tick.actual)
        _seen_to(actor, tick.duty, done=False)
        take_back_now(actor, tick)


def take_back_now(actor: Person, tick: Tick) -> None:
    """Within a transaction that has asked who may."""
    tick.taken_back_at, tick.taken_back_by = timezone.now(), actor
    tick.save(update_fields=["taken_back_at", "taken_back_by"])
    audit.note(actor=actor, did="take-back", subject=tick, studio=tick.studio, said=tick.said)


def require_ticker(actor: Person, studio: Studio) -> None:
    """Whoever works at a studio goes its round. Raises NotAllowed."""
    if not may(actor, "tick", studio):
        raise NotAllowed(
            who=actor.name, what=said("tick its duties"), studio=studio.name, role=said("technician")
        )


def _lock(studio: Studio, keys: Iterable[str]) -> None:
    """What the duties are done to, and what it draws on: whoever records or ticks the same waits."""
    things = [thing_of(key) for key in keys]
    supplies = {thing for does, thing in things if does == Does.REFILL}
    rest = {thing for does, thing in things if does != Does.REFILL}
    equipment = set(Equipment.objects.filter(studio=studio, pk__in=rest).values_list("pk", flat=True))
    drawn = Draw.objects.filter(equipment__in=equipment).values_list("supply_id", flat=True)
    own = Supply.objects.filter(studio=studio, pk__in=supplies).values_list("pk", flat=True)
    lock(supplies={*drawn, *own}, equipment=equipment)


def _lines(studio: Studio, day: dt.date, keys: Sequence[str]) -> list[Line]:
    """The duties as they stand now. Raises Over where one is not due that day, or is done."""
    found = [line for line in lines_on(studio, day) if not set(line.duty.keys).isdisjoint(keys)]
    if set(keys) - {key for line in found for key in line.duty.keys}:
        raise Over(
            what=said("This duty"), why=said("is not due on this day: what it is for was moved or called off")
        )
    for line in found:
        if line.done or any(tick.duty in keys for tick in line.ticks):
            raise Over(what=f"“{_said(line, line.duty.what)}”", why=said("is done already"))
    return found


def _seen_to(actor: Person, key: str, *, done: bool) -> None:
    """Handwork for a kiln job is done once it is ticked, and is not when the tick is taken back."""
    step = step_of(key)
    if step is not None and (step.done_at is None) == done:
        step_done(actor=actor, step=step, done=done)


def _recorded(actor: Person, line: Line, at: dt.datetime | None) -> Recorded | None:
    """What really happened; None of a delivery and of handwork, which have records of their own."""
    happened_at = at or timezone.now()
    if line.duty.face == "kiln-job":
        return None
    if line.refill is not None:
        minute = moment(floor_minutes(happened_at))
        record_refill(actor=actor, supply=line.refill.supply, at=minute, planned=line.refill)
        return None
    if line.firing is None or line.records is None:
        problem = said("Nothing is recorded of this duty, or it is already; tick it alone.")
        raise InvalidInput(field="record", problem=problem)
    return write_actual(actor=actor, firing=line.firing, kind=line.records, at=happened_at)


def _ticked(actor: Person, studio: Studio, line: Line, part: Part, recorded: Recorded | None) -> Tick:
    words = _said(line, part.name)
    tick = Tick.objects.create(
        studio=studio,
        duty=part.key,
        said=words[:LONGEST_SAID],
        due_at=line.duty.at,
        ticked_by=actor,
        actual=recorded.actual if recorded else None,
    )
    due = when(line.duty.at, studio)
    audit.note(actor=actor, did="tick", subject=tick, studio=studio, said=f"{words}, due {due}")
    return tick


def _said(line: Line, what: str) -> str:
    """Light hole 1 (blowing, Instructor)."""
    return f"{line.duty.does.capitalize()} {what} ({line.duty.why})"
