"""What is hot at a studio at one moment: how hot, why, and until when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from uuid import UUID

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.curves import temperature
from scheduling.engine.records import PhaseSpan
from scheduling.models import Actual, Firing, Outage
from scheduling.selectors.duties import why
from scheduling.selectors.held import HeldSpan
from studios.models import Equipment, EquipmentKind, Studio
from studios.thermal import Phase

# A torch has no temperature in the book, and burns all the same.
BURNS = {Phase.PURGE, Phase.WORKING, Phase.COOLING}
# From the hottest to the cold.
ORDER = (
    EquipmentKind.FURNACE,
    EquipmentKind.GLORY_HOLE,
    EquipmentKind.PIPE_WARMER,
    EquipmentKind.ANNEALER,
    EquipmentKind.KILN,
    EquipmentKind.TORCH,
)
PLACE: Mapping[str, int] = {kind.value: place for place, kind in enumerate(ORDER)}


@dataclass(frozen=True, kw_only=True)
class Hot:
    """Equipment that is hot, reckoned from what is booked and recorded.

    `celsius` is None where nothing is known of it (a torch). Of the ends, those are set that come:
    `phase_until` of what it does now, `cool_at` when it may be opened or touched, `unload_at` for a firing;
    without `cool_at` it is always hot. `read`: the last temperature that somebody read at it.
    """

    names: tuple[str, ...]
    uid: UUID
    kind: str
    number: int
    why: str
    phase: Phase | None
    celsius: float | None
    phase_until: int | None
    cool_at: int | None
    unload_at: int | None
    firing: Firing | None
    read: Actual | None
    session_uid: UUID | None
    outage: str = ""

    @property
    def name(self) -> str:
        return ", ".join(self.names)


def hot_at(studio: Studio, held: Iterable[HeldSpan], minute: int) -> tuple[Hot, ...]:
    """What is hot at a minute, the hottest kind first; torches that burn for the same are one."""
    equipment = {row.pk: row for row in Equipment.objects.filter(studio=studio, active=True)}
    now = {one.equipment_id: one for one in held if one.span[0] <= minute < one.span[1]}
    firings = _firings(one.holder.uid for one in now.values() if one.holder.face == "firing")
    out = _out_of_use(studio, minute)
    found = [
        *(_always(row, now.get(key), minute) for key, row in equipment.items() if _stays_hot(row)),
        *(_hot(equipment[key], one, minute, firings) for key, one in now.items() if key in equipment),
    ]
    hot = [replace(one, outage=out.get(one.uid, "")) for one in found if one is not None]
    return tuple(sorted(_together(hot), key=lambda one: (PLACE[one.kind], one.number)))


def _firings(uids: Iterable[UUID]) -> Mapping[UUID, Firing]:
    rows = Firing.objects.filter(uid__in=list(uids)).select_related("equipment")
    return {row.uid: row for row in rows.prefetch_related("actuals__recorded_by")}


def _stays_hot(row: Equipment) -> bool:
    return row.kind == EquipmentKind.FURNACE


def _hot(row: Equipment, held: HeldSpan, minute: int, firings: Mapping[UUID, Firing]) -> Hot | None:
    phase = _phase_at(held, minute)
    if phase is None or _stays_hot(row) or row.kind not in PLACE:
        return None
    firing = firings.get(held.holder.uid)
    celsius, cool_at = temperature(phase, minute), _cool_at(held, firing)
    burns = row.kind == EquipmentKind.TORCH and phase.kind in BURNS
    if not burns and (celsius is None or minute >= cool_at):
        return None
    return Hot(
        names=(row.name,),
        uid=row.uid,
        kind=row.kind,
        number=row.number,
        why=why(held),
        phase=phase.kind,
        celsius=celsius,
        phase_until=_until(held, phase),
        cool_at=cool_at,
        unload_at=floor_minutes(firing.unload_at) if firing else None,
        firing=firing,
        read=_last_read(firing, minute),
        session_uid=held.holder.uid if held.holder.face == "session" else None,
    )


def _phase_at(held: HeldSpan, minute: int) -> PhaseSpan | None:
    return next((phase for phase in held.phases if phase.span[0] <= minute < phase.span[1]), None)


def _until(held: HeldSpan, phase: PhaseSpan) -> int:
    """When what it does now ends; phases of one kind that follow one another are one."""
    end = phase.span[1]
    for later in held.phases:
        if later.span[0] == end and later.kind == phase.kind:
            end = later.span[1]
    return end


def _cool_at(held: HeldSpan, firing: Firing | None) -> int:
    return floor_minutes(firing.cool_at) if firing else held.span[1]


def _last_read(firing: Firing | None, minute: int) -> Actual | None:
    actuals = firing.actuals.all() if firing else ()
    read = [one for one in actuals if one.read_c is not None and one.struck_at is None]
    known = [one for one in read if floor_minutes(one.at) <= minute]
    return max(known, key=lambda one: (one.at, one.pk), default=None)


def _always(row: Equipment, held: HeldSpan | None, minute: int) -> Hot:
    """A furnace is always hot; in a charge it is turned up, and otherwise gathered from."""
    phase = _phase_at(held, minute) if held else None
    return Hot(
        names=(row.name,),
        uid=row.uid,
        kind=row.kind,
        number=row.number,
        why=why(held) if held else "",
        phase=phase.kind if phase else None,
        celsius=(temperature(phase, minute) if phase else None) or row.working_c,
        phase_until=_until(held, phase) if held and phase else None,
        cool_at=None,
        unload_at=None,
        firing=None,
        read=None,
        session_uid=held.holder.uid if held and held.holder.face == "session" else None,
    )


def _out_of_use(studio: Studio, minute: int) -> dict[UUID, str]:
    """What is out of use may be hot all the same: why, by its equipment."""
    at = moment(minute)
    rows = Outage.objects.filter(equipment__studio=studio, starts_at__lte=at, ends_at__gt=at)
    return dict(rows.values_list("equipment__uid", "reason"))


def _together(hot: Iterable[Hot]) -> list[Hot]:
    """Torches that burn for the same, in the same way and for as long, are one line."""
    alike: dict[tuple[object, ...], list[Hot]] = defaultdict(list)
    for one in hot:
        own = one.uid if one.celsius is not None or one.outage else None
        alike[one.kind, one.why, one.phase, one.phase_until, one.cool_at, own].append(one)
    return [
        replace(group[0], names=tuple(name for one in group for name in one.names))
        for group in alike.values()
    ]
