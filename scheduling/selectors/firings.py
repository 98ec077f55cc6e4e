"""A firing's page: its curve, its program, and the loads that share it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
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
        """What people wait for, in order; a kiln begins its program as the door closes."""
        firing = self.firing
        begin = (
            (
                ("Ready for the first piece", firing.at_hold_at),
                ("Last piece in, soak begins", firing.last_in_at),
            )
            if firing.recipe == Recipe.ANNEAL
            else (("Door closed, program begins", firing.last_in_at),)
        )
        return (*begin, ("Cool enough to open", firing.cool_at), ("Unloaded from", firing.unload_at))

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
