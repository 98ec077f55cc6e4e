"""What holds equipment in a stretch of time, by whom, and through which phases."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext

from scheduling.engine.clock import moment
from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.minutes import Minute
from scheduling.models import Load, Occupancy, OccupancyPhase, SeatStatus, Session
from scheduling.selectors.seats import void
from studios.models import Person
from studios.selectors import allowed_at
from studios.thermal import Phase


@dataclass(frozen=True, kw_only=True)
class Viewer:
    """Who reads, and at which studios this person may see other students' names."""

    person_id: int
    staff_at: frozenset[int]
    everywhere: bool

    def sees_names_at(self, studio_id: int) -> bool:
        """Names of students are for those who teach or look after the equipment there."""
        return self.everywhere or studio_id in self.staff_at

    def sees_owner(self, owner_id: int, studio_id: int, *, of_class: bool) -> bool:
        """Whose pieces are in a firing: whoever teaches a class is known to all, and one's own to oneself."""
        return of_class or owner_id == self.person_id or self.sees_names_at(studio_id)


def viewer_of(person: Person) -> Viewer:
    """The reader's view: names are shown at the studios where a role of the person's allows it."""
    staff_at = allowed_at(person, "see-names")
    return Viewer(person_id=person.pk, staff_at=staff_at, everywhere=person.is_superuser)


@dataclass(frozen=True, kw_only=True)
class Holder:
    """What an occupancy belongs to: a session, a firing, a charge, a kiln job, or one torch in bench time."""

    face: str
    uid: UUID
    title: str
    who: str
    mine: bool = False


@dataclass(frozen=True, kw_only=True)
class HeldSpan:
    """One occupancy: all of it, the part that refuses others, its phases and its holder. Minutes.

    `broken_at`: its firing broke off between annealing and strain point, and is to be annealed again.
    """

    equipment_id: int
    place: int
    span: Span
    exclusive: Span
    phases: tuple[PhaseSpan, ...]
    holder: Holder
    changed_at: dt.datetime
    broken_at: dt.datetime | None = None


# When what holds it last changed; how long it holds it leans on others, too.
_CHANGED = (
    "firing__changed_at",
    "charge__changed_at",
    "booking__session__changed_at",
    "booking__seat__changed_at",
    "booking__job_step__job__changed_at",
)
_COLUMNS = (
    "id",
    "equipment_id",
    "equipment__studio_id",
    "place",
    "begins",
    "ends",
    "alone_from",
    "alone_to",
    "firing_id",
    "firing__uid",
    "firing__recipe",
    "firing__broken_at",
    "charge__uid",
    "charge__booked_by_id",
    "charge__booked_by__name",
    "booking__session__id",
    "booking__session__uid",
    "booking__session__course__name",
    "booking__session__instructor_id",
    "booking__session__instructor__name",
    "booking__seat__uid",
    "booking__seat__person_id",
    "booking__seat__person__name",
    "booking__job_step__uid",
    "booking__job_step__does",
    "booking__job_step__job__uid",
    "booking__job_step__job__title",
    "booking__job_step__job__owner_id",
    "booking__job_step__job__owner__name",
    *_CHANGED,
    "assisted",
)
_MINUTES = {
    "begins": Minute("starts_at"),
    "ends": Minute("ends_at"),
    "alone_from": Minute("exclusive_from"),
    "alone_to": Minute("exclusive_to"),
}


def held_between(*, studio_ids: Collection[int], span: Span, viewer: Viewer) -> list[HeldSpan]:
    """Every occupancy of the studios' equipment that touches the span, in order of its start."""
    start, end = span
    return _read(
        Occupancy.objects.filter(
            equipment__studio_id__in=studio_ids, starts_at__lt=moment(end), ends_at__gt=moment(start)
        ).exclude(void("booking__seat__")),
        viewer,
    )


def promised_between(*, equipment: Q, span: Span, viewer: Viewer) -> list[HeldSpan]:
    """As `held_between`, at some equipment, without seats that are only kept: they are in no calendar."""
    start, end = span
    held = Occupancy.objects.filter(equipment, starts_at__lt=moment(end), ends_at__gt=moment(start))
    return _read(held.exclude(booking__seat__status=SeatStatus.KEPT), viewer)


def held_by_session(*, session_id: int, viewer: Viewer) -> list[HeldSpan]:
    """What one session holds: its own equipment, and every firing its pieces lie in."""
    own = Occupancy.objects.filter(booking__session__id=session_id)
    fired = Occupancy.objects.filter(firing__loads__session_id=session_id)
    return _read(own, viewer) + _read(fired, viewer)


def _read(occupancies: Any, viewer: Viewer) -> list[HeldSpan]:
    known = occupancies.annotate(**_MINUTES, assisted=_assisted_by(viewer)).order_by("starts_at", "id")
    rows = list(known.values_list(*_COLUMNS, named=True))
    phases = phases_of([row.id for row in rows])
    loads = _loads_of({row.firing_id for row in rows if row.firing_id})
    return [
        HeldSpan(
            equipment_id=row.equipment_id,
            place=row.place,
            span=(row.begins, row.ends),
            exclusive=(row.alone_from, row.alone_to),
            phases=phases.get(row.id, ()),
            holder=_holder(row, loads, viewer),
            changed_at=row.firing__changed_at
            or row.charge__changed_at
            or row.booking__session__changed_at
            or row.booking__seat__changed_at
            or row.booking__job_step__job__changed_at,
            broken_at=row.firing__broken_at,
        )
        for row in rows
    ]


_KINDS = {kind.value: kind for kind in Phase}


def phases_of(occupancy_ids: Iterable[int]) -> dict[int, tuple[PhaseSpan, ...]]:
    """The phases of occupancies, in order, in the engine's form."""
    found: dict[int, list[PhaseSpan]] = defaultdict(list)
    rows = (
        OccupancyPhase.objects.filter(occupancy_id__in=list(occupancy_ids))
        .order_by("starts_at", "id")
        .annotate(begins=Minute("starts_at"), ends=Minute("ends_at"))
        .values_list("occupancy_id", "kind", "begins", "ends", "from_c", "to_c", "toward_c", "tau_min")
    )
    for occupancy_id, kind, begins, ends, from_c, to_c, toward_c, tau_min in rows:
        found[occupancy_id].append(
            PhaseSpan(
                kind=_KINDS[kind],
                span=(begins, ends),
                from_c=from_c,
                to_c=to_c,
                toward_c=toward_c,
                tau_min=tau_min,
            )
        )
    return {occupancy_id: tuple(phases) for occupancy_id, phases in found.items()}


def _loads_of(firing_ids: Collection[int]) -> Mapping[int, list[Any]]:
    loads: dict[int, list[Any]] = defaultdict(list)
    rows = Load.objects.filter(firing_id__in=firing_ids).values_list(
        "firing_id", "session__course__name", "job__title", "owner_id", "owner__name", named=True
    )
    for row in rows:
        loads[row.firing_id].append(row)
    return loads


def _assisted_by(viewer: Viewer) -> Exists:
    """Whether it is a session in which the reader assists."""
    rows = Session.assistants.through.objects.filter(person_id=viewer.person_id)
    return Exists(rows.filter(session_id=OuterRef("booking__session__id")))


def _holder(row: Any, loads: Mapping[int, list[Any]], viewer: Viewer) -> Holder:
    if row.firing_id:
        return _firing_holder(row, loads.get(row.firing_id, []), viewer)
    if row.charge__uid:
        return Holder(
            face="charge",
            uid=row.charge__uid,
            title=gettext("Charge of the pot"),
            who=row.charge__booked_by__name,
            mine=row.charge__booked_by_id == viewer.person_id,
        )
    if row.booking__session__uid:
        return Holder(
            face="session",
            uid=row.booking__session__uid,
            title=row.booking__session__course__name,
            who=row.booking__session__instructor__name,
            mine=row.booking__session__instructor_id == viewer.person_id or row.assisted,
        )
    if row.booking__job_step__uid:
        return _step_holder(row, viewer)
    mine = row.booking__seat__person_id == viewer.person_id
    shown = mine or viewer.sees_names_at(row.equipment__studio_id)
    who = row.booking__seat__person__name if shown else ""
    return Holder(face="bench", uid=row.booking__seat__uid, title=gettext("Bench time"), who=who, mine=mine)


def _step_holder(row: Any, viewer: Viewer) -> Holder:
    """Handwork for a kiln job, at a cold station."""
    mine = row.booking__job_step__job__owner_id == viewer.person_id
    shown = mine or viewer.sees_names_at(row.equipment__studio_id)
    does = gettext(row.booking__job_step__does.replace("-", " "))
    return Holder(
        face="kiln-job",
        uid=row.booking__job_step__job__uid,
        title=f"{row.booking__job_step__job__title}: {does}" if shown else does.capitalize(),
        who=row.booking__job_step__job__owner__name if shown else "",
        mine=mine,
    )


def _firing_holder(row: Any, loads: list[Any], viewer: Viewer) -> Holder:
    names = [
        load.session__course__name or _job_title(load, row.equipment__studio_id, viewer) for load in loads
    ]
    courses = dict.fromkeys(name for name in names if name)
    owners = dict.fromkeys(
        load.owner__name
        for load in loads
        if viewer.sees_owner(
            load.owner_id, row.equipment__studio_id, of_class=bool(load.session__course__name)
        )
    )
    recipe = gettext(row.firing__recipe.replace("-", " "))
    return Holder(
        face="firing",
        uid=row.firing__uid,
        title=f"{' + '.join(courses) or gettext('Own work')}: {recipe}",
        who=", ".join(owners),
        mine=any(load.owner_id == viewer.person_id for load in loads),
    )


def _job_title(load: Any, studio_id: int, viewer: Viewer) -> str:
    """A kiln job is somebody's own work: whoever may not know whose it is reads only that it is one."""
    shown = viewer.sees_owner(load.owner_id, studio_id, of_class=False)
    return str(load.job__title or "") if shown else ""
