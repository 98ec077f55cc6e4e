"""What the engine knows of things, what is asked of it, and what it answers. Times are minutes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import cast
from zoneinfo import ZoneInfo

from scheduling.engine.booked import Draws
from scheduling.engine.spans import Span
from studios.thermal import Body, FiringPlan, Phase, Piece, Policy, Recipe

EVER = 1 << 50  # a minute that never comes
ELSEWHERE = 0  # no studio of ours
SPARE = 1e-6  # L, kWh or kg: what is left over when contents are added and taken away again


class Kind(StrEnum):
    """What a piece of equipment is, in the trade's words."""

    FURNACE = "furnace"
    GLORY_HOLE = "glory-hole"
    BENCH = "bench"
    PIPE_WARMER = "pipe-warmer"
    TORCH = "torch"
    KILN = "kiln"
    ANNEALER = "annealer"
    COLD_STATION = "cold-station"


class Duty(StrEnum):
    """What somebody has to be there for; `present` is anybody of the studio at all."""

    PRESENT = "present"
    LIGHT = "light"
    LOAD = "load"
    UNLOAD = "unload"
    CHARGE = "charge"


@dataclass(frozen=True, kw_only=True)
class StudioRecord:
    """A studio's clock, its staffed hours by duty (closures taken out) and its firing rules.

    Each class lies within one of the spans of `over_by`, from midnight to the latest end; empty: no limit.
    """

    id: int
    name: str
    zone: ZoneInfo
    fahrenheit: bool
    notice_min: int
    electric_unattended: bool
    hold_gap_min: int
    policy: Policy
    staffed: Mapping[Duty, tuple[Span, ...]]
    over_by: tuple[Span, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Apparatus:
    """One piece of equipment: what it can do, how fast, and what it draws (supply id, amount).

    `bodies` are its thermal records with the minute from which each is in force: a record accepted from a
    log, or another season in the room, begins on its day. `breakers` are the supplies among its draws whose
    breaker counts a load of three hours or more at 125 %. `room_id` is the supply of people that its room is.
    """

    id: int
    studio_id: int
    active: bool
    kind: Kind
    name: str
    number: int
    places: int
    station_id: int | None
    bodies: tuple[tuple[int, Body], ...]
    gas_fired: bool
    working_c: float | None
    touch_c: float
    prepare_min: int
    clear_min: int
    capacity_cm2: int
    controller_segments: int | None
    draws: tuple[tuple[int, float], ...]
    breakers: frozenset[int] = frozenset()
    longest_wait_min: int = 0
    lighting_kwh: float = 0.0
    room_id: int | None = None

    def body_at(self, minute: int) -> Body | None:
        """The thermal record in force: the last that has begun, else the first there is."""
        for since, body in reversed(self.bodies):
            if since <= minute:
                return body
        return self.bodies[0][1] if self.bodies else None


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A load from the engine's side: its piece, its room on the shelf, and when the pieces go in."""

    piece: Piece
    footprint_cm2: int
    in_from: int
    in_until: int
    held_by: str


@dataclass(frozen=True, kw_only=True)
class FiringRecord:
    """A firing that stands: its recipe, its loads, when it is at hold, and when its last piece is in."""

    id: int
    recipe: Recipe
    lots: tuple[Lot, ...]
    ready: int
    last_in: int


@dataclass(frozen=True, kw_only=True)
class Taken:
    """An exclusive span that stands; place 0 means every place.

    `core` is the working part of a glory hole or pipe warmer: its heat-up gives way to an earlier session,
    which leaves it hot. After an outage it is cold.
    """

    apparatus_id: int
    place: int
    span: Span
    core: Span
    held_by: str
    outage: bool = False
    occupancy_id: int | None = None
    firing: FiringRecord | None = None


@dataclass(frozen=True, kw_only=True)
class Use:
    """A draw on a supply while a controller may switch it on."""

    span: Span
    amount: float
    held_by: str
    occupancy_id: int | None = None


@dataclass(frozen=True, kw_only=True)
class SupplyRecord:
    """A supply with its greatest rate and what already draws on it."""

    id: int
    name: str
    unit: str
    limit: float
    uses: Sequence[Use]

    def __post_init__(self) -> None:
        if not isinstance(self.uses, Draws):
            object.__setattr__(self, "uses", Draws(self.uses))

    @property
    def draws(self) -> Draws:
        """What draws on it, in the order of time."""
        return cast("Draws", self.uses)

    @property
    def steps(self) -> Sequence[tuple[Span, float]]:
        """What is drawn at once, as spans of one total, in order, without the idle ones."""
        return self.draws.steps


@dataclass(frozen=True, kw_only=True)
class Period:
    """From one refill to the next, and how much may still be booked in it; negative where too much is."""

    span: Span
    room: float


@dataclass(frozen=True, kw_only=True)
class Store:
    """What is in cylinders, a tank or a pot: bookings use it up, a refill sets it to a known content.

    `per_min` is what one unit of draw takes in a minute. Nothing is known of it before its first refill. What
    is left at the next refill is what counts, wherever in the period it is drawn.
    """

    name: str
    unit: str
    full: float
    floor: float
    per_min: float
    refills: tuple[tuple[int, float], ...]
    uses: Sequence[Use] = ()
    change_over: bool = False

    def __post_init__(self) -> None:
        if not isinstance(self.uses, Draws):
            object.__setattr__(self, "uses", Draws(self.uses))

    @property
    def draws(self) -> Draws:
        """What is drawn from it, in the order of time."""
        return cast("Draws", self.uses)

    @cached_property
    def periods(self) -> list[Period]:
        """Each period with its room, in order; the last one has no end."""
        begins = sorted(self.refills)
        ends = [*(minute for minute, _ in begins), EVER][1:]
        return [
            Period(span=(begin, end), room=content - self.floor - self.booked((begin, end)))
            for (begin, content), end in zip(begins, ends, strict=True)
            if begin < end
        ]

    def booked(self, within: Span) -> float:
        """What is drawn from it within a span."""
        return self.per_min * self.draws.total(*within)

    def reckon(self, use: Use, sign: int) -> None:
        """Each period that one more draw (or one less) lies in has less room for others (or more)."""
        # Periods that nobody has asked for yet will be added up from all draws.
        for at, period in enumerate(self.periods if "periods" in self.__dict__ else ()):
            if period.span[0] < use.span[1] and use.span[0] < period.span[1]:
                more = sign * self.taken([use], period.span)
                self.periods[at] = Period(span=period.span, room=period.room - more)

    def taken(self, uses: Iterable[Use], within: Span) -> float:
        """What some uses take out of it within a span."""
        return self.per_min * sum(
            use.amount * max(0, min(use.span[1], within[1]) - max(use.span[0], within[0])) for use in uses
        )


@dataclass(frozen=True, kw_only=True)
class ChangeOver:
    """Somebody has to change a supply over to full cylinders before a class."""

    supply_id: int
    at: int
    content: float


@dataclass(frozen=True, kw_only=True)
class ChargePlan:
    """How a furnace is charged: turned up, charged several times with gaps, fined, brought down again."""

    turn_up_min: int
    charges: int
    charge_min: int
    gap_min: int
    fining_min: int
    coming_down_min: int
    charging_c: float

    @property
    def staffed(self) -> tuple[Span, ...]:
        """The minutes of each charge, reckoned from the turn-up: somebody shovels."""
        begins = (self.turn_up_min + n * (self.charge_min + self.gap_min) for n in range(self.charges))
        return tuple((begin, begin + self.charge_min) for begin in begins)

    @property
    def total_min(self) -> int:
        """From turn-up to the end of coming down; every place of the furnace is taken."""
        return self.staffed[-1][1] + self.fining_min + self.coming_down_min


@dataclass(frozen=True, kw_only=True)
class PotRecord:
    """The glass in the pot of a furnace; each session draws from it when it ends."""

    store: Store
    plan: ChargePlan


@dataclass(frozen=True, kw_only=True)
class Engagement:
    """Hours that a person has given, and at which studio.

    ELSEWHERE are hours that are taken in the person's own calendar: what for, where, and how far away that is
    is not known here.
    """

    span: Span
    studio_id: int
    studio: str
    what: str

    @property
    def elsewhere(self) -> bool:
        """Whether the person's own calendar has these hours."""
        return self.studio_id == ELSEWHERE


@dataclass(frozen=True, kw_only=True)
class FiringAsk:
    """What a class puts into an annealer while it runs, or into a kiln when it ends."""

    kind: Kind
    recipe: Recipe
    piece: Piece
    footprint_cm2: int


@dataclass(frozen=True, kw_only=True)
class Ask:
    """What a meeting needs: a class; bench time at one torch, or a firing in one kiln (`only` names it then).

    `glass_kg` is what all its gatherers together draw from the pot, waste included. `people` is how many are
    in the room; of the `assistant_ids` so many `assistants` come too. `over_by` as that of a studio.
    """

    title: str
    studio_id: int
    teach_min: int
    setup_min: int = 0
    cleanup_min: int = 0
    person_id: int | None = None
    stations: tuple[tuple[Kind, int], ...] = ()
    only: frozenset[int] | None = None
    firings: tuple[FiringAsk, ...] = ()
    notice: bool = True
    glass_kg: float = 0.0
    people: int = 0
    assistants: int = 0
    assistant_ids: tuple[int, ...] = ()
    over_by: tuple[Span, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PhaseSpan:
    """One closed-form piece of what the equipment does, on whole minutes."""

    kind: Phase
    span: Span
    from_c: float | None = None
    to_c: float | None = None
    toward_c: float | None = None
    tau_min: float | None = None


@dataclass(frozen=True, kw_only=True)
class Held:
    """One piece of equipment held: all of it, the part that refuses others, its phases and its draws.

    `glass_kg` is what is drawn from the pot at this place of a furnace. Most of what a search holds is passed
    over, so the phases are `laid` only when somebody asks for them.
    """

    apparatus_id: int
    place: int
    span: Span
    exclusive: Span
    laid: Callable[[], tuple[PhaseSpan, ...]] = field(compare=False, repr=False)
    draws: tuple[tuple[int, Use], ...] = ()
    glass_kg: float = 0.0

    @cached_property
    def phases(self) -> tuple[PhaseSpan, ...]:
        """What the equipment does meanwhile, in order; each lasts at least a minute."""
        return tuple(phase for phase in self.laid() if phase.span[0] < phase.span[1])


@dataclass(frozen=True, kw_only=True)
class FiringHeld:
    """A firing as it would run with these loads; `joins` is the firing it adds to.

    `heat_off` is when its program has ended and its controller no longer switches the heat on.
    `plan` is its program, with what that asks for, what the equipment makes of it, and the stress it leaves.
    """

    held: Held
    recipe: Recipe
    lots: tuple[Lot, ...]
    joins: int | None
    hold_c: float
    at_hold: int
    last_in: int
    below_strain: int
    cool: int
    unload: int
    heat_off: int
    plan: FiringPlan
    energy_kwh: float


@dataclass(frozen=True, kw_only=True)
class Placement:
    """Everything that a start holds, and remarks worth reading beside it.

    `slack_min`: for so many minutes later, whatever else changes, no store runs short of it. `kept_hot` are
    the occupancies that follow at its hot stations and stay hot from its end on.
    """

    start: int
    end: int
    person_span: Span
    held: tuple[Held, ...]
    firings: tuple[FiringHeld, ...]
    notes: tuple[str, ...]
    change_overs: tuple[ChangeOver, ...] = ()
    slack_min: int = EVER
    assistant_ids: tuple[int, ...] = ()
    kept_hot: frozenset[int] = frozenset()


@dataclass(frozen=True, kw_only=True)
class Reason:
    """One cause that blocks a start: a sentence, until when, and the earliest start it might allow.

    `not_before` is a lower bound: no start before it escapes this cause. None: not within the horizon.
    """

    code: str
    sentence: str
    until: int | None
    not_before: int | None


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """No start as asked: a value with its reasons, never an exception."""

    start: int
    reasons: tuple[Reason, ...]

    @property
    def not_before(self) -> int | None:
        """The earliest start that could escape every one of the causes."""
        bounds = [reason.not_before for reason in self.reasons]
        known = [bound for bound in bounds if bound is not None]
        return max(known) if known and len(known) == len(bounds) else None
