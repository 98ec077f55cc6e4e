"""What the torches draw: how much of each supply is taken, by whom, and how many more it feeds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import floor

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.spans import Span
from scheduling.models import SupplyUse
from scheduling.selectors.seats import void
from scheduling.selectors.sheet import steps_of
from studios.models import Draw, Equipment, Supply, SupplyKind

# A picture of the hours asked for shows so much before and after them, too: what begins there, and what ends.
AROUND_MIN = 120


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What a class, or one torch in bench time, draws of a supply, and in which minutes."""

    who: str
    span: Span
    amount: float


@dataclass(frozen=True, kw_only=True)
class Left:
    """What may still be booked of a content until it is refilled; `until` None: no refill is entered."""

    amount: float
    unit: str
    until: int | None


@dataclass(frozen=True, kw_only=True)
class SupplyAt:
    """A supply of the torches in a stretch: the most drawn at once, and what one torch more draws.

    A room that they stand in is one too: it is filled by people, one at each torch.
    """

    name: str
    is_room: bool
    unit: str
    limit: float
    in_use: float
    each: float
    drawn: tuple[Drawn, ...] = ()
    left: Left | None = field(default=None)

    @property
    def still(self) -> int:
        """How many more torches it feeds all through the stretch."""
        return max(0, floor((self.limit - self.in_use) / self.each + 1e-9)) if self.each else 0

    def within(self, span: Span) -> tuple[Drawn, ...]:
        """What is drawn in some minutes."""
        return tuple(one for one in self.drawn if one.span[0] < span[1] and one.span[1] > span[0])


def supplies_at(torches: Sequence[Equipment], span: Span, left: dict[int, Left]) -> tuple[SupplyAt, ...]:
    """All that feeds the torches, what feeds the fewest more first; a torch draws from its purge on."""
    each = _drawn_by_one(torches)
    purge = max((torch.prepare_min for torch in torches), default=0)
    uses = _uses(each, (span[0] - AROUND_MIN, span[1] + AROUND_MIN))
    found = [
        _supply_at(supply, uses[supply.pk], amount, (span[0] - purge, span[1]), left.get(supply.pk))
        for supply, amount in each.items()
    ]
    return tuple(sorted(found, key=lambda one: (one.still, one.is_room, one.name)))


def _supply_at(
    supply: Supply, drawn: Sequence[Drawn], each: float, span: Span, left: Left | None
) -> SupplyAt:
    levels = steps_of([(*one.span, one.amount) for one in drawn], span)
    return SupplyAt(
        name=supply.name,
        is_room=supply.kind == SupplyKind.PEOPLE,
        unit=supply.unit,
        limit=supply.limit,
        in_use=max((amount for _, amount in levels), default=0.0),
        each=each,
        drawn=tuple(drawn),
        left=left,
    )


def _drawn_by_one(torches: Sequence[Equipment]) -> dict[Supply, float]:
    """What one torch draws of each supply, at most; whoever sits there is one more in the room."""
    drawn: dict[Supply, float] = {}
    draws = Draw.objects.filter(equipment__in=torches).select_related("supply").order_by("supply__name")
    for draw in draws:
        drawn[draw.supply] = max(draw.amount, drawn.get(draw.supply, 0.0))
    rooms = Supply.objects.filter(equipment_in_it__in=torches).distinct()
    return drawn | dict.fromkeys(rooms.order_by("name"), 1.0)


def _uses(supplies: dict[Supply, float], span: Span) -> dict[int, list[Drawn]]:
    """Who draws on each supply in a stretch; the torches of one class together."""
    rows = SupplyUse.objects.filter(
        supply__in=supplies, starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])
    ).exclude(void("occupancy__booking__seat__"))
    rows = rows.select_related("occupancy__equipment", "occupancy__booking__session__course")
    amounts: dict[tuple[int, str, int, Span], float] = defaultdict(float)
    for use in rows.order_by("starts_at", "occupancy__equipment__number", "pk"):
        key = use.occupancy.booking_id or 0
        span_of = floor_minutes(use.starts_at), floor_minutes(use.ends_at)
        amounts[use.supply_id, _who(use), key, span_of] += use.amount
    found: dict[int, list[Drawn]] = defaultdict(list)
    for (supply_id, who, _, span_of), amount in amounts.items():
        found[supply_id].append(Drawn(who=who, span=span_of, amount=amount))
    return found


def _who(use: SupplyUse) -> str:
    session = getattr(use.occupancy.booking, "session", None)
    return session.course.name if session else use.occupancy.equipment.name
