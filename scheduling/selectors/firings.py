"""A firing's page: its curve, its program, and the loads that share it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from scheduling.engine.clock import floor_minutes
from scheduling.engine.curves import temperature
from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.models import BookingStatus, Firing, Load, Occupancy
from scheduling.selectors.held import Viewer, phases_of
from scheduling.snapshot import weekly_spans
from scheduling.wording import amount
from studios.models import Person
from studios.selectors import studios_of
from studios.thermal import Body, Recipe
from studios.thermal.limits import Rule
from studios.thermal.moments import TOUCH_C
from studios.thermal.motion import cool_down_curve

# A permitted rate (°C/h) beyond what any kiln follows is said as "as fast as it goes".
FASTER_THAN_ANY = 999


@dataclass(frozen=True, kw_only=True)
class SegmentLine:
    """One segment as it is keyed in.

    `rate_c_per_h` is None where the body goes as fast as it can; `level` where there is nothing to ramp, the
    target being where the segment before ended. `way` is 1 or -1 where the target is passed rising or
    falling, 0 where it is held. `hold_until` is set where the hold ends with the last piece in, and
    `hold_min` is then how long that will have been.
    """

    phase: str
    rate_c_per_h: float | None
    target_c: float
    hold_min: float
    level: bool
    way: int
    hold_phase: str
    hold_until: dt.datetime | None
    governed_by: str
    hold_governed_by: str
    keyed: bool


@dataclass(frozen=True, kw_only=True)
class FiringPage:
    """One firing with everything a person at the kiln needs."""

    firing: Firing
    span: Span | None
    phases: tuple[PhaseSpan, ...]
    loads: tuple[Load, ...]
    staffed: tuple[Span, ...]
    body: Body | None
    now: int
    sees_names: bool
    viewer_id: int

    @property
    def stands(self) -> bool:
        return self.firing.status == BookingStatus.BOOKED and self.span is not None

    @property
    def moments(self) -> tuple[tuple[str, dt.datetime], ...]:
        """What people wait for, in order."""
        firing = self.firing
        strain = firing.below_strain_at
        return (
            *self._begin,
            *([(_("Below the strain point"), strain)] if strain else []),
            (_("Cool enough to open"), firing.cool_at),
            (_("Unloaded from"), firing.unload_at),
        )

    @property
    def _begin(self) -> tuple[tuple[str, dt.datetime], ...]:
        """A kiln begins its program as the door closes, or waits and starts by itself."""
        ready, last_in = self.firing.at_hold_at, self.firing.last_in_at
        if self.firing.recipe == Recipe.ANNEAL:
            return (_("Ready for the first piece"), ready), (_("Last piece in, soak begins"), last_in)
        if ready == last_in:
            return ((_("Door closed, program begins"), last_in),)
        return (_("Door closed, kiln waits"), ready), (_("Program starts by itself"), last_in)

    @property
    def segments(self) -> tuple[SegmentLine, ...]:
        """The program; an annealer is kept at its hold until the last piece is in."""
        stored = self.firing.segments
        before = [None, *(segment["target_c"] for segment in stored)]
        waits = self.firing.recipe == Recipe.ANNEAL
        return tuple(
            self._segment(segment, at_c, waits=waits and number == 0)
            for number, (segment, at_c) in enumerate(zip(stored, before, strict=False))
        )

    def _segment(self, stored: dict[str, Any], at_c: float | None, *, waits: bool) -> SegmentLine:
        firing, rate = self.firing, stored["rate_c_per_h"]
        held_min = (firing.last_in_at - firing.at_hold_at) / dt.timedelta(minutes=1)
        own = rate is not None and stored["governed_by"] == Rule.EQUIPMENT and rate > FASTER_THAN_ANY
        level, held = stored["target_c"] == at_c, waits or stored["hold_min"] > 0
        rises = at_c is None or stored["target_c"] > at_c
        return SegmentLine(
            phase=stored["phase"],
            rate_c_per_h=None if own else rate,
            target_c=stored["target_c"],
            hold_min=held_min if waits else stored["hold_min"],
            level=level,
            way=0 if level or held else 1 if rises else -1,
            hold_phase=stored.get("hold_phase", ""),
            hold_until=firing.last_in_at if waits else None,
            governed_by="" if level else stored["governed_by"],
            hold_governed_by="last piece" if waits else stored.get("hold_governed_by", ""),
            keyed=stored.get("keyed", True),
        )

    @property
    def cost(self) -> str:
        """What its energy costs at the studio's price; empty where none is set."""
        equipment = self.firing.equipment
        if equipment.heat_price is None:
            return ""
        return amount(equipment.heat_price * Decimal(self.firing.energy_kwh), equipment.studio)

    @property
    def asked(self) -> tuple[tuple[float, float], ...]:
        """What the program asks for, in minutes of the epoch and °C."""
        begin = floor_minutes(self.firing.last_in_at)
        return tuple((begin + minute, at_c) for minute, at_c in self.firing.asked)

    @property
    def touch_at(self) -> dt.datetime | None:
        """From when pieces may be touched with bare hands, the door being kept shut until then.

        None where its room itself is warmer than that, or no record says how it cools.
        """
        body = self.body
        if body is None or body.ambient_c >= TOUCH_C:
            return None
        if body.opening_c <= TOUCH_C:
            return self.firing.cool_at
        cooling = cool_down_curve(body, from_c=body.opening_c, to_c=TOUCH_C)
        return self.firing.cool_at + dt.timedelta(minutes=cooling.whole_min)

    @property
    def running(self) -> PhaseSpan | None:
        """The phase it is in now."""
        return next((each for each in self.phases if each.span[0] <= self.now < each.span[1]), None)

    @property
    def now_c(self) -> float | None:
        """How hot it is now as worked out."""
        return None if self.running is None else temperature(self.running, self.now)

    @property
    def room_cm2(self) -> int:
        return sum(load.footprint_cm2 for load in self.loads)


def firing_page(*, uid: UUID, person: Person, viewer: Viewer) -> FiringPage | None:
    """A firing at one of the person's studios; a stranger's is not found."""
    firing = (
        Firing.objects.filter(uid=uid, equipment__studio__in=studios_of(person))
        .select_related("equipment__studio")
        .first()
    )
    if firing is None:
        return None
    studio = firing.equipment.studio
    occupancy = Occupancy.objects.filter(firing=firing).first()
    span = (floor_minutes(occupancy.starts_at), floor_minutes(occupancy.ends_at)) if occupancy else None
    return FiringPage(
        firing=firing,
        span=span,
        phases=phases_of([occupancy.pk]).get(occupancy.pk, ()) if occupancy else (),
        loads=tuple(firing.loads.select_related("session__course", "job", "owner", "glass")),
        staffed=weekly_spans(studio, studio.staffed_hours.all(), span) if span else (),
        body=firing.equipment.body_on(firing.cool_at.astimezone(studio.zone).date()),
        now=floor_minutes(timezone.now()),
        sees_names=viewer.sees_names_at(studio.pk),
        viewer_id=viewer.person_id,
    )
