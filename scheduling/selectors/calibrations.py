"""A piece of equipment with its records and calibrations, and what another record would move."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from scheduling.engine.clock import MIDNIGHT, edge_minutes, moment
from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.records import Apparatus, StudioRecord
from scheduling.models import BookingStatus, Firing
from scheduling.selectors.loads import load_title
from scheduling.snapshot import firing_record, horizon_around, load_world, lot_of_load
from studios.errors import LehrbookError
from studios.models import Calibration, Equipment, EquipmentKind, Person, Ranges, ThermalRecord
from studios.selectors import may, studios_of
from studios.thermal import Body, Recipe

WORTH_TELLING = dt.timedelta(minutes=15)


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """What a fit changes in a record; without a ceiling of its own it keeps the one there is."""

    tau_h: float
    tau_low_h: float | None
    split_c: float
    ceiling_c: float | None

    @classmethod
    def of_fit(cls, fit: dict[str, Any]) -> Numbers:
        """Those of a fit as it is stored with its calibration."""
        return cls(**{name: fit[name] for name in ("tau_h", "tau_low_h", "split_c", "ceiling_c")})

    def put_into(self, body: Body, usual_c: float) -> Body:
        """The body with these numbers; its power, ramp limit, ambient and door stay. Raises ThermalError.

        A season that makes the room warmer than usual lifts the ceiling with it, as for any record.
        """
        warmer_k = body.ambient_c - usual_c
        return replace(
            body,
            tau_h=self.tau_h,
            tau_low_h=self.tau_low_h,
            split_c=self.split_c,
            ceiling_c=body.ceiling_c if self.ceiling_c is None else self.ceiling_c + warmer_k,
        )


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A booked firing that keeps its hours although another record would give it others.

    `would_be_cool_at` is none where the equipment could not fire the load at all; `why` says so then.
    """

    firing: Firing
    concerns: str
    cool_at: dt.datetime
    would_be_cool_at: dt.datetime | None
    why: str = ""

    @property
    def later_min(self) -> int | None:
        """By how many minutes it would be cool later; negative: earlier."""
        if self.would_be_cool_at is None:
            return None
        return round((self.would_be_cool_at - self.cool_at) / dt.timedelta(minutes=1))

    @property
    def difference(self) -> str:
        """The same in words: 1:20 later."""
        if self.later_min is None:
            return ""
        in_hours, rest = divmod(abs(self.later_min), 60)
        words = _("%(time)s later") if self.later_min > 0 else _("%(time)s earlier")
        return words % {"time": f"{in_hours}:{rest:02d}"}


@dataclass(frozen=True, kw_only=True)
class EquipmentPage:
    """One piece of equipment: how it heats and cools, since when, and from what."""

    equipment: Equipment
    record: ThermalRecord | None
    body: Body | None
    season: str
    records: tuple[ThermalRecord, ...]
    calibrations: tuple[Calibration, ...]
    may_calibrate: bool
    may_enter_outage: bool
    may_charge: bool


def equipment_page(*, uid: UUID, person: Person) -> EquipmentPage | None:
    """Equipment at one of the person's studios; a stranger's is not found."""
    equipment = (
        Equipment.objects.filter(uid=uid, studio__in=studios_of(person))
        .select_related("studio")
        .prefetch_related("thermal_records__calibration")
        .first()
    )
    if equipment is None:
        return None
    today, allowed = today_at(equipment), may(person, "calibrate", equipment.studio)
    season = equipment.studio.season_on(today)
    return EquipmentPage(
        equipment=equipment,
        record=equipment.record_on(today),
        body=equipment.body_on(today),
        season=season.name if season else "",
        records=tuple(sorted(equipment.thermal_records.all(), key=lambda row: row.valid_from, reverse=True)),
        calibrations=tuple(_of(equipment)) if allowed else (),
        may_calibrate=allowed,
        may_enter_outage=may(person, "enter-outage", equipment.studio),
        may_charge=equipment.kind == EquipmentKind.FURNACE and may(person, "charge", equipment.studio),
    )


def _of(equipment: Equipment) -> QuerySet[Calibration]:
    found = equipment.calibrations.select_related("made_by", "record")
    return found.defer("readings", "one_range", "two_range", "notices")


def calibrations_of(person: Person) -> QuerySet[Calibration]:
    """The calibrations at studios where the person may calibrate, the newest first."""
    studios = [studio.pk for studio in studios_of(person) if may(person, "calibrate", studio)]
    return (
        Calibration.objects.filter(equipment__studio__in=studios)
        .select_related("equipment__studio", "made_by", "record", "accepted_by")
        .order_by("-made_at", "-id")
    )


def today_at(equipment: Equipment) -> dt.date:
    """The day it is where the equipment stands."""
    return timezone.now().astimezone(equipment.studio.zone).date()


@dataclass(frozen=True, kw_only=True)
class Foreseen:
    """What a fit would move; or, where its numbers make no record at all, why not."""

    ranges: str
    firings: tuple[Moved, ...] = ()
    why_not: str = ""


def foreseen(calibration: Calibration) -> tuple[Foreseen, ...]:
    """For each fit what it would move; once one is the record, what that does not move."""
    names = [name for name, _ in fits_of(calibration)]
    shown = [accepted_or_offered(calibration)] if calibration.record else names
    return tuple(_foreseen(calibration, name) for name in shown)


def _foreseen(calibration: Calibration, ranges: str) -> Foreseen:
    try:
        return Foreseen(ranges=ranges, firings=moved_by(calibration, ranges))
    except LehrbookError as error:
        return Foreseen(ranges=ranges, why_not=str(error))


def moved_by(calibration: Calibration, ranges: str) -> tuple[Moved, ...]:
    """What one of its fits would move from today on, or does not move since it became the record."""
    fit = calibration.fit(ranges)
    if fit is None:
        return ()
    record = calibration.record
    from_day = max(today_at(calibration.equipment), record.valid_from if record else dt.date.min)
    return would_move(equipment=calibration.equipment, numbers=Numbers.of_fit(fit), from_day=from_day)


def accepted_or_offered(calibration: Calibration) -> str:
    """The fit that counts: the one that became the record, else the one that is offered."""
    return (calibration.accepted_ranges if calibration.record else "") or calibration.offered


def would_move(*, equipment: Equipment, numbers: Numbers, from_day: dt.date) -> tuple[Moved, ...]:
    """The booked firings, not yet lit, that another record from a day on would open 15 minutes off or more.

    They keep their hours: each is listed with both times and whom it concerns. Raises ThermalError where the
    numbers make no body.
    """
    since, until = _in_force(equipment, from_day)
    firings = _booked(equipment, since, until)
    if not firings:
        return ()
    horizon = horizon_around(timezone.now(), max(firing.cool_at for firing in firings))
    world = load_world([equipment.studio], horizon)
    record = equipment.record_on(from_day)
    usual_c = record.ambient_c if record else 0.0
    apparatus = _with(world.apparatus[equipment.pk], numbers, usual_c, (since, until))
    rerun = (_rerun(world.studios[equipment.studio_id], apparatus, firing) for firing in firings)
    return tuple(moved for moved in rerun if moved is not None)


def said_otherwise(*, equipment: Equipment, from_day: dt.date) -> tuple[Moved, ...]:
    """The booked firings, not yet lit, that its records as they stand would open 15 minutes off or more.

    Of those held by the record in force on a day: each with both times, as `would_move` lists them.
    """
    firings = _booked(equipment, *_in_force(equipment, from_day))
    if not firings:
        return ()
    world = load_world(
        [equipment.studio], horizon_around(timezone.now(), max(firing.cool_at for firing in firings))
    )
    studio, apparatus = world.studios[equipment.studio_id], world.apparatus[equipment.pk]
    rerun = (_rerun(studio, apparatus, firing) for firing in firings)
    return tuple(moved for moved in rerun if moved is not None)


def _in_force(equipment: Equipment, from_day: dt.date) -> tuple[int, int | None]:
    """The minutes from the day's midnight to that of the next record."""
    later = [row.valid_from for row in equipment.thermal_records.all() if row.valid_from > from_day]
    zone = equipment.studio.zone
    ends = edge_minutes(min(later), MIDNIGHT, zone) if later else None
    return edge_minutes(from_day, MIDNIGHT, zone), ends


def _booked(equipment: Equipment, since: int, until: int | None) -> list[Firing]:
    found = Firing.objects.filter(
        equipment=equipment,
        status=BookingStatus.BOOKED,
        occupancy__starts_at__gt=timezone.now(),
        at_hold_at__gte=moment(since),
    )
    if until is not None:
        found = found.filter(at_hold_at__lt=moment(until))
    loads = ("loads__glass", "loads__owner", "loads__session__course", "loads__job")
    return list(found.select_related("equipment__studio").prefetch_related(*loads).order_by("at_hold_at"))


def _with(
    apparatus: Apparatus, numbers: Numbers, usual_c: float, in_force: tuple[int, int | None]
) -> Apparatus:
    """The equipment as it would be; another season in the room still begins on its day."""
    since, until = in_force
    before = [pair for pair in apparatus.bodies if pair[0] < since]
    begun = apparatus.body_at(since)
    within = [(since, begun)] if begun is not None else []
    within += [pair for pair in apparatus.bodies if since < pair[0] and (until is None or pair[0] < until)]
    after = [pair for pair in apparatus.bodies if until is not None and pair[0] >= until]
    changed = [(minute, numbers.put_into(body, usual_c)) for minute, body in within]
    return replace(apparatus, bodies=(*before, *changed, *after))


def _rerun(studio: StudioRecord, apparatus: Apparatus, firing: Firing) -> Moved | None:
    lots = tuple(lot_of_load(load) for load in firing.loads.all())
    held = run(studio, apparatus, Recipe(firing.recipe), lots, joins=firing_record(firing, lots))
    kept = Moved(firing=firing, concerns=_concerns(firing), cool_at=firing.cool_at, would_be_cool_at=None)
    if isinstance(held, Unrunnable):
        return replace(kept, why=held.says)
    would_be = moment(held.cool)
    if abs(would_be - firing.cool_at) <= WORTH_TELLING:
        return None
    return replace(kept, would_be_cool_at=would_be)


def _concerns(firing: Firing) -> str:
    """Whose pieces are in it, and from which class."""
    whose = (
        f"{load_title(load)}, {load.owner}" if load.session or load.job else str(load.owner)
        for load in firing.loads.all()
    )
    return "; ".join(dict.fromkeys(whose))


def fits_of(calibration: Calibration) -> list[tuple[str, dict[str, Any]]]:
    """Its fits by name: one range, and two where the log tells them apart."""
    found = ((ranges, calibration.fit(ranges)) for ranges in (Ranges.ONE.value, Ranges.TWO.value))
    return [(ranges, fit) for ranges, fit in found if fit is not None]
