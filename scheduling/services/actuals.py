"""Recording what really happened in a firing, and striking what was entered by mistake."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.actual import Happened, What
from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.recorded import Setting, misfit
from scheduling.errors import InvalidInput, NotAllowed, OutOfOrder, Over
from scheduling.models import Actual, ActualKind, BookingStatus, Firing
from scheduling.selectors.reached import found_hot
from scheduling.services import audit
from scheduling.services.firings import tell_moved
from scheduling.services.messages import tell
from scheduling.services.piece_states import back_in, gone_in, reckon_ready
from scheduling.services.recomputing import Recomputed, happened, recompute
from scheduling.services.transactions import lock, one_write
from scheduling.wording import degrees, when
from studios.models import Person
from studios.said import said
from studios.selectors import may, people_with
from studios.thermal import Recipe

COLDEST_C = -20.0
LONGEST_NOTE = 200
# What can only have happened once the pieces were in; a kiln is lit after, too.
SAY_LOADED = (
    ActualKind.LAST_IN,
    ActualKind.SOAK_STARTED,
    ActualKind.OPENED,
    ActualKind.UNLOADED,
)


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """A record, and what to mind now that it stands."""

    actual: Actual
    cautions: tuple[str, ...]


@one_write
def record_actual(
    *,
    actor: Person,
    firing: Firing,
    kind: str,
    at: dt.datetime,
    read_c: float | None = None,
    note: str = "",
) -> Recorded:
    """Record one thing that happened in a firing; all its hours follow from what stands recorded.

    Raises NotAllowed, Over, InvalidInput, OutOfOrder or NoRecord.
    """
    require_recorder(actor, firing)
    return write_actual(actor=actor, firing=firing, kind=kind, at=at, read_c=read_c, note=note)


@one_write
def strike_actual(*, actor: Person, actual: Actual) -> Recorded:
    """Strike what was entered by mistake: the row stays, and counts no more; so do its ticks.

    Raises NotAllowed or Over.
    """
    firing = actual.firing
    require_recorder(actor, firing)
    lock_firing(firing)
    actual.refresh_from_db(fields=["struck_at"])
    firing.refresh_from_db()
    if actual.struck_at is not None:
        raise Over(what=_said(actual), why=said("is struck already"))
    _require_standing(firing)
    if actual.kind == ActualKind.UNLOADED:
        _require_uncollected(firing)
        _take_off_shelves(firing, "that they are unloaded was entered by mistake")
    actual.struck_at = timezone.now()
    actual.save(update_fields=["struck_at"])
    # Who ticked the duty by this record has not seen to it.
    actual.ticks.filter(taken_back_at__isnull=True).update(taken_back_at=timezone.now(), taken_back_by=actor)
    came_to = _follow(firing)
    if actual.kind == ActualKind.UNLOADED:
        back_in(firing, by=actor)
    _note(actor, firing, "strike", _said(actual))
    return Recorded(actual=actual, cautions=came_to.ran.cautions)


def require_recorder(actor: Person, firing: Firing) -> None:
    """Whoever works at the studio records what happened there. Raises NotAllowed."""
    studio = firing.equipment.studio
    if not may(actor, "record-actual", studio):
        raise NotAllowed(
            who=actor.name, what=said("record what happened"), studio=studio.name, role=said("technician")
        )


def lock_firing(firing: Firing) -> None:
    """Lock all that the hours of a firing touch."""
    supplies = firing.equipment.draws.values_list("supply_id", flat=True)
    lock(supplies=supplies, equipment=[firing.equipment_id])


def write_actual(
    *, actor: Person, firing: Firing, kind: str, at: dt.datetime, read_c: float | None = None, note: str = ""
) -> Recorded:
    """As `record_actual`, within the transaction of a service that has asked who records."""
    lock_firing(firing)
    firing.refresh_from_db()
    _require_standing(firing)
    _require_sense(firing, kind, at, read_c, note)
    actual = Actual.objects.create(
        firing=firing,
        kind=kind,
        at=moment(floor_minutes(at)),
        read_c=read_c,
        note=note.strip(),
        recorded_by=actor,
    )
    if _says_loaded(firing, kind) and firing.unloaded_at is None:
        gone_in(firing, by=actor)
    came_to = _follow(firing)
    _note(actor, firing, "record", _said(actual))
    return Recorded(actual=actual, cautions=came_to.ran.cautions)


def _says_loaded(firing: Firing, kind: str) -> bool:
    return kind in SAY_LOADED or (kind == ActualKind.LIT and firing.recipe != Recipe.ANNEAL)


def _require_standing(firing: Firing) -> None:
    """A firing lives while it has a load."""
    if firing.status != BookingStatus.BOOKED:
        raise Over(what=str(firing), why=said("is called off; nothing happens in it any more"))


def _require_sense(firing: Firing, kind: str, at: dt.datetime, read_c: float | None, note: str) -> None:
    if kind not in ActualKind.values:
        raise InvalidInput(field="kind", problem="Say what happened: one of " + ", ".join(ActualKind.values))
    if len(note) > LONGEST_NOTE:
        raise InvalidInput(
            field="note",
            problem=said("A note has at most {longest_note} characters.", longest_note=LONGEST_NOTE),
        )
    if floor_minutes(at) > floor_minutes(timezone.now()):
        raise InvalidInput(
            field="at", problem=said("Only what has happened is recorded: this time is to come.")
        )
    _require_reading(firing, kind, read_c)
    _require_order(firing, Happened(what=What(kind), at=floor_minutes(at), read_c=read_c))


def _require_reading(firing: Firing, kind: str, read_c: float | None) -> None:
    if read_c is None:
        if kind == ActualKind.TEMPERATURE:
            raise InvalidInput(field="read_c", problem=said("Say which temperature was read."))
        return
    body = firing.equipment.body_on(firing.at_hold_at.astimezone(firing.equipment.studio.zone).date())
    hottest = 1800.0 if body is None else body.ceiling_c
    if not COLDEST_C <= read_c <= hottest:
        studio = firing.equipment.studio
        raise InvalidInput(
            field="read_c",
            problem=said(
                "{equipment} is between {degrees} and {degrees_2} hot, at most; read it again.",
                equipment=firing.equipment.name,
                degrees=degrees(COLDEST_C, studio),
                degrees_2=degrees(hottest, studio),
            ),
        )


def _require_order(firing: Firing, new: Happened) -> None:
    standing = [happened(actual) for actual in firing.actuals.filter(struck_at__isnull=True)]
    setting = Setting(
        begin=floor_minutes(firing.occupancy.starts_at),
        last_in=floor_minutes(firing.last_in_at),
        kiln=firing.recipe != Recipe.ANNEAL,
    )
    found = misfit(setting, [*standing, new])
    if found is None:
        return
    studio = firing.equipment.studio
    kind = ActualKind(found.event.what.value).label.capitalize()
    raise OutOfOrder(
        field="at",
        what=said("{kind} at {when} cannot be", kind=kind, when=when(moment(found.event.at), studio)),
        why=said(found.why, since=when(moment(found.since), studio)),
    )


def _follow(firing: Firing) -> Recomputed:
    """The hours follow what stands recorded, and whom it concerns is told."""
    broken = firing.broken_at
    came_to = recompute(firing)
    # Whoever made the pieces is told where they lie; that the kiln was emptied sooner needs no word.
    if came_to.moved and firing.opened_at is None and firing.unloaded_at is None:
        tell_moved(firing)
    if firing.broken_at is not None and firing.broken_at != broken:
        _tell_broken(firing)
        _take_off_shelves(firing, said("they must be annealed again first"))
    _tell_hot(firing)
    reckon_ready(firing)
    return came_to


def _tell_broken(firing: Firing) -> None:
    """Whoever minds the kilns, and whose pieces are in it, is told once that it must be annealed again."""
    studio, at = firing.equipment.studio, firing.broken_at
    owners = Person.objects.filter(loads__firing=firing).distinct()
    for person in (people_with("enter-outage", studio) | owners).order_by("pk"):
        tell(
            person=person,
            subject=said("To be annealed again: {equipment}", equipment=firing.equipment.name),
            body=said(
                "The firing in {equipment} at {studio} broke off at {value}, before its glass was "
                "annealed. Its pieces are not handed out: light it again, or start the soak again, and "
                "record that.",
                equipment=firing.equipment.name,
                studio=studio.name,
                value=when(at, studio) if at else "",
            ),
            key=f"anneal-again:{firing.uid}:{at:%Y%m%d%H%M}" if at else "",
        )


def _tell_hot(firing: Firing) -> None:
    """Whoever minds the kilns is told once of each use that finds this one hot."""
    studio = firing.equipment.studio
    for use in found_hot(firing):
        for person in people_with("enter-outage", studio).order_by("pk"):
            tell(
                person=person,
                subject=said(
                    "Still hot: {equipment}, for {what}", equipment=firing.equipment.name, what=use.what
                ),
                body=said(
                    "{equipment} at {studio} is cool at {when} and unloaded by {when_2}, and {what} needs "
                    "it from {when_3}.",
                    equipment=firing.equipment.name,
                    studio=studio.name,
                    when=when(firing.cool_at, studio),
                    when_2=when(firing.occupancy.ends_at, studio),
                    what=use.what,
                    when_3=when(use.starts_at, studio),
                ),
                key=f"still-hot:{firing.uid}:{use.key}",
            )


def _require_uncollected(firing: Firing) -> None:
    """What somebody has collected was unloaded. Raises Over."""
    if firing.loads.filter(pick_up__collections__collected_at__isnull=False).exists():
        raise Over(what=str(firing), why=said("was unloaded: some of its pieces are collected already"))


def _take_off_shelves(firing: Firing, why: str) -> None:
    """Nobody comes for what is not to be handed out: whoever was told to is told so."""
    equipment = firing.equipment
    for load in firing.loads.filter(pick_up__isnull=False).select_related("pick_up"):
        for collection in load.pick_up.collections.filter(collected_at__isnull=True).select_related("person"):
            tell(
                person=collection.person,
                subject=said("Not yet to be collected: {equipment}", equipment=equipment.name),
                body=said(
                    "Your pieces from {equipment} at {studio} cannot be collected yet: {why}. You will be "
                    "told when they can.",
                    equipment=equipment.name,
                    studio=equipment.studio.name,
                    why=why,
                ),
            )
            collection.delete()
        if not load.pick_up.collections.exists():
            load.pick_up.delete()


def _said(actual: Actual) -> str:
    """Annealer 1: temperature read 120 °C, Tue 4 Mar 2031, 03:00 CST."""
    studio = actual.firing.equipment.studio
    read = said(" {degrees}", degrees=degrees(actual.read_c, studio)) if actual.read_c is not None else ""
    return said(
        "{equipment}: {kind}{read}, {when}",
        equipment=actual.firing.equipment.name,
        kind=ActualKind(actual.kind).label,
        read=read,
        when=when(actual.at, studio),
    )


def _note(actor: Person, firing: Firing, did: str, said: str) -> None:
    audit.note(actor=actor, did=did, subject=firing, studio=firing.equipment.studio, said=said)
