"""A firing's page: its curve, its program, and the loads that share it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from scheduling.engine.clock import floor_minutes
from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.models import BookingStatus, Firing, Load, Occupancy
from scheduling.selectors.held import Viewer, phases_of
from scheduling.snapshot import weekly_spans
from studios.models import Person
from studios.selectors import studios_of
from studios.thermal import Recipe
from studios.thermal.limits import Rule

# A permitted rate (°C/h) beyond what any kiln follows is said as "as fast as it goes".
FASTER_THAN_ANY = 999


@dataclass(frozen=True, kw_only=True)
class SegmentLine:
    """One segment as it is keyed in.

    `rate_c_per_h` is None where the body goes as fast as it can; `level` where there is nothing to ramp, the
    target being where the segment before ended. `hold_until` is set where the hold ends with the last piece
    in, and `hold_min` is then how long that will have been.
    """

    phase: str
    rate_c_per_h: float | None
    target_c: float
    hold_min: float
    level: bool
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
            *([("Below the strain point", strain)] if strain else []),
            ("Cool enough to open", firing.cool_at),
            ("Unloaded from", firing.unload_at),
        )

    @property
    def _begin(self) -> tuple[tuple[str, dt.datetime], ...]:
        """A kiln begins its program as the door closes, or waits and starts by itself."""
        ready, last_in = self.firing.at_hold_at, self.firing.last_in_at
        if self.firing.recipe == Recipe.ANNEAL:
            return ("Ready for the first piece", ready), ("Last piece in, soak begins", last_in)
        if ready == last_in:
            return (("Door closed, program begins", last_in),)
        return ("Door closed, kiln waits", ready), ("Program starts by itself", last_in)

    @property
    def segments(self) -> tuple[SegmentLine, ...]:
        """The program; an annealer is kept at its hold until the last piece is in."""
        stored = self.firing.segments
        before = [None, *(segment["target_c"] for segment in stored)]
        waits = self.firing.recipe == Recipe.ANNEAL
        return tuple(
            self._segment(segment, level=segment["target_c"] == at_c, waits=waits and number == 0)
            for number, (segment, at_c) in enumerate(zip(stored, before, strict=False))
        )

    def _segment(self, stored: dict[str, Any], *, level: bool, waits: bool) -> SegmentLine:
        firing, rate = self.firing, stored["rate_c_per_h"]
        held_min = (firing.last_in_at - firing.at_hold_at) / dt.timedelta(minutes=1)
        own = rate is not None and stored["governed_by"] == Rule.EQUIPMENT and rate > FASTER_THAN_ANY
        return SegmentLine(
            phase=stored["phase"],
            rate_c_per_h=None if own else rate,
            target_c=stored["target_c"],
            hold_min=held_min if waits else stored["hold_min"],
            level=level,
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
        studio = equipment.studio
        price = studio.gas_price_per_kwh if equipment.gas_fired else studio.price_per_kwh
        if price is None:
            return ""
        return f"{float(price) * self.firing.energy_kwh:.2f} {studio.currency}".strip()

    @property
    def asked(self) -> tuple[tuple[float, float], ...]:
        """What the program asks for, in minutes of the epoch and °C; nothing where the body follows it."""
        if not self.firing.lags:
            return ()
        begin = floor_minutes(self.firing.last_in_at)
        return tuple((begin + minute, at_c) for minute, at_c in self.firing.asked)

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
        loads=tuple(firing.loads.select_related("session__course", "owner", "glass")),
        staffed=weekly_spans(studio, studio.staffed_hours.all(), span) if span else (),
        sees_names=viewer.sees_names_at(studio.pk),
        viewer_id=viewer.person_id,
    )
