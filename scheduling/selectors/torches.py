"""The torch bench for a stretch of time: which torches are free, and what their supplies still give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

from django.db.models import QuerySet

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.spans import Span, covers
from scheduling.models import Outage, PersonSpan, SupplyUse
from scheduling.selectors.held import HeldSpan, Viewer, held_between
from scheduling.selectors.seats import void
from scheduling.selectors.sheet import steps_of
from scheduling.snapshot import DAY, bench_spans
from studios.models import Draw, Equipment, EquipmentKind, Person, Studio, Supply, SupplyKind
from studios.selectors import not_signed_off

SIT = 120


@dataclass(frozen=True, kw_only=True)
class TorchPlace:
    """One numbered torch, and what it is taken by in the stretch, if anything."""

    torch: Equipment
    held: tuple[HeldSpan, ...]
    down: str

    @property
    def state(self) -> str:
        """free, mine, class, taken, or out of use."""
        if self.down:
            return "out of use"
        if not self.held:
            return "free"
        if any(one.holder.face == "bench" and one.holder.mine for one in self.held):
            return "mine"
        return "class" if self.held[0].holder.face == "session" else "taken"

    @property
    def free(self) -> bool:
        return self.state == "free"

    @property
    def until(self) -> int:
        """The minute from which nothing in the stretch holds it any more."""
        return max((one.exclusive[1] for one in self.held), default=0)


@dataclass(frozen=True, kw_only=True)
class SupplyAt:
    """A supply of the torches in the stretch: the most drawn at once, and what one torch more draws.

    A room that they stand in is one too: it is filled by people, one at each torch.
    """

    name: str
    is_room: bool
    unit: str
    limit: float
    in_use: float
    each: float

    @property
    def still(self) -> int:
        """How many more torches it feeds all through the stretch."""
        return floor((self.limit - self.in_use) / self.each + 1e-9) if self.each else 0

    @property
    def share(self) -> int:
        """Use against the limit, in hundredths."""
        return round(100 * self.in_use / self.limit) if self.limit else 0


@dataclass(frozen=True, kw_only=True)
class TorchPlan:
    """The bench of one studio for one stretch of time."""

    studio: Studio
    span: Span
    places: tuple[TorchPlace, ...]
    supplies: tuple[SupplyAt, ...]
    bench_hours: tuple[Span, ...]

    @property
    def free_count(self) -> int:
        return sum(place.free for place in self.places)

    @property
    def in_bench_hours(self) -> bool:
        """Open bench time covers the whole stretch."""
        return covers(self.bench_hours, *self.span)

    @property
    def feeds(self) -> int:
        """How many more torches every supply feeds; a torch that draws on none is not counted against any."""
        return self._still(room=False)

    @property
    def fits(self) -> int:
        """How many more people their room takes."""
        return self._still(room=True)

    def _still(self, *, room: bool) -> int:
        kept = (one.still for one in self.supplies if one.each and one.is_room == room)
        return min(kept, default=len(self.places))


def torch_benches(studios: QuerySet[Studio]) -> QuerySet[Studio]:
    """Those of the studios that have torches."""
    return studios.filter(equipment__kind=EquipmentKind.TORCH, equipment__active=True).distinct()


def next_bench_time(studio: Studio, now: int) -> Span:
    """At most two hours of the next open bench time within two weeks; without any, the two hours to come."""
    begin = now - now % 60 + 60
    for start, end in bench_spans(studio, (begin, begin + 14 * DAY)):
        if max(start, begin) + SIT <= end:
            return max(start, begin), max(start, begin) + SIT
    return begin, begin + SIT


def torch_plan(*, studio: Studio, span: Span, viewer: Viewer) -> TorchPlan:
    """Every torch of the bench in the stretch, purge before and cooling after counted in."""
    torches = list(studio.equipment.filter(kind=EquipmentKind.TORCH, active=True).order_by("number", "name"))
    margin = max((max(torch.prepare_min, torch.clear_min) for torch in torches), default=0)
    wide = (span[0] - margin, span[1] + margin)
    held = held_between(studio_ids=[studio.pk], span=wide, viewer=viewer)
    down = dict(
        Outage.objects.filter(
            equipment__in=torches, starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])
        ).values_list("equipment_id", "reason")
    )
    return TorchPlan(
        studio=studio,
        span=span,
        places=tuple(
            TorchPlace(torch=torch, held=_in_the_way(torch, span, held), down=down.get(torch.pk, ""))
            for torch in torches
        ),
        supplies=_supplies(torches, span),
        bench_hours=bench_spans(studio, (span[0] - DAY, span[1] + DAY)),
    )


def hindrances(*, person: Person, plan: TorchPlan, now: int) -> tuple[str, ...]:
    """Why a person can have none of the torches in the stretch, however many are free; in sentences."""
    busy = PersonSpan.objects.filter(
        person=person, starts_at__lt=moment(plan.span[1]), ends_at__gt=moment(plan.span[0])
    )
    found = {
        "These hours have begun or are over; choose hours to come.": plan.span[0] < now,
        "These hours are not open bench time, so a torch is had only through a class.": (
            not plan.in_bench_hours
        ),
        "The studio signs people off before they work alone at a torch; ask its manager.": (
            bool(not_signed_off(person, plan.studio, {EquipmentKind.TORCH.value}))
        ),
        "In these hours you have a seat or a class already; My seats lists it.": busy.exists(),
    }
    return tuple(sentence for sentence, holds in found.items() if holds)


def _in_the_way(torch: Equipment, span: Span, held: Sequence[HeldSpan]) -> tuple[HeldSpan, ...]:
    start, end = span[0] - torch.prepare_min, span[1] + torch.clear_min
    return tuple(
        one
        for one in held
        if one.equipment_id == torch.pk and one.exclusive[0] < end and one.exclusive[1] > start
    )


def _supplies(torches: Sequence[Equipment], span: Span) -> tuple[SupplyAt, ...]:
    each = _drawn_by_one(torches)
    uses: dict[Supply, list[tuple[int, int, float]]] = {supply: [] for supply in each}
    rows = SupplyUse.objects.filter(
        supply__in=each, starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])
    ).exclude(void("occupancy__booking__seat__"))
    rows = rows.select_related("supply")
    for use in rows:
        uses[use.supply].append((floor_minutes(use.starts_at), floor_minutes(use.ends_at), use.amount))
    return tuple(
        SupplyAt(
            name=supply.name,
            is_room=supply.kind == SupplyKind.PEOPLE,
            unit=supply.unit,
            limit=supply.limit,
            in_use=max((amount for _, amount in steps_of(uses[supply], span)), default=0.0),
            each=amount,
        )
        for supply, amount in each.items()
    )


def _drawn_by_one(torches: Sequence[Equipment]) -> dict[Supply, float]:
    """What one torch draws of each supply, at most; whoever sits there is one more in the room."""
    drawn: dict[Supply, float] = {}
    draws = Draw.objects.filter(equipment__in=torches).select_related("supply").order_by("supply__name")
    for draw in draws:
        drawn[draw.supply] = max(draw.amount, drawn.get(draw.supply, 0.0))
    rooms = Supply.objects.filter(equipment_in_it__in=torches).distinct()
    return drawn | dict.fromkeys(rooms.order_by("name"), 1.0)
