"""Stores: what is left in cylinders, tanks and pots covers everything booked until the next refill."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scheduling.engine.charges import charge_hint
from scheduling.engine.heat import HOT_STATIONS
from scheduling.engine.records import (
    EVER,
    SPARE,
    ChangeOver,
    Duty,
    Held,
    Kind,
    Period,
    Reason,
    Store,
    StudioRecord,
    Use,
)
from scheduling.engine.spans import Span, intersect, subtract
from scheduling.engine.wording import at
from scheduling.engine.world import World
from studios.said import said

MOVED_FOR_OTHERS = HOT_STATIONS | {Kind.ANNEALER, Kind.KILN}


@dataclass(frozen=True, kw_only=True)
class Stocked:
    """What stores say to a start: why not, or who has to change over before it."""

    reasons: tuple[Reason, ...]
    change_overs: tuple[ChangeOver, ...]
    slack_min: int


@dataclass(frozen=True, kw_only=True)
class _Claim:
    """What a start takes from one store, and what it frees there by taking the place of other draws."""

    world: World
    studio: StudioRecord
    supply_id: int
    store: Store
    asked: tuple[Use, ...]
    freed: tuple[Use, ...]
    held: Sequence[Held]
    core: Span

    @property
    def begin(self) -> int:
        return min(use.span[0] for use in self.asked)

    def more(self, within: Span) -> float:
        """What is taken more than before within a span."""
        return self.store.taken(self.asked, within) - self.store.taken(self.freed, within)

    def lacks(self, period: Period) -> bool:
        """Whether a period is left with too little; one that has too little already may be eased."""
        return self.more(period.span) > max(period.room, 0.0) + SPARE

    def slack_min(self, room: float, within: Span) -> int:
        """Minutes by which the draws may move before they could take more than there is room for."""
        rate = self.store.per_min * sum(use.amount for use in self.asked)
        return int(max(0.0, room - self.more(within)) / rate) if rate > 0 else EVER


def stocked(
    world: World,
    studio: StudioRecord,
    asked: Sequence[tuple[int, Use]],
    held: Sequence[Held],
    replaced: frozenset[int],
    core: Span,
) -> Stocked:
    """Whether stores cover these draws and this glass until they are refilled, or are changed over before.

    `replaced` are the occupancies whose own draws the new ones take the place of.
    """
    found = [
        _supplied(
            _Claim(
                world=world,
                studio=studio,
                supply_id=supply_id,
                store=store,
                asked=tuple(use for key, use in asked if key == supply_id),
                freed=tuple(use for key in replaced for use in store.draws.by_occupancy.get(key, ())),
                held=held,
                core=core,
            )
        )
        for supply_id, store in world.stores.items()
        if any(key == supply_id for key, _ in asked)
    ]
    glass = tuple(_too_little_glass(world, studio, held, core))
    return Stocked(
        reasons=(*(reason for each in found for reason in each.reasons), *glass),
        change_overs=tuple(change for each in found for change in each.change_overs),
        slack_min=min((each.slack_min for each in found), default=EVER),
    )


def _supplied(claim: _Claim) -> Stocked:
    """One store: it lasts, or is changed over before, or runs dry."""
    lacking = [period for period in claim.store.periods if claim.lacks(period)]
    if not lacking:
        return Stocked(reasons=(), change_overs=(), slack_min=_slack_min(claim, claim.store.periods))
    hours = change_over_hours(claim.world, claim.studio, claim.store, lacking[0])
    changed = _changed_over(claim, lacking[0], hours) if len(lacking) == 1 else None
    dry = Stocked(reasons=(_runs_dry(claim, lacking[0], hours),), change_overs=(), slack_min=0)
    return changed or dry


def _slack_min(claim: _Claim, periods: Iterable[Period]) -> int:
    """Minutes by which the draws may move before one of the periods that they lie in could run short."""
    touched = (period for period in periods if claim.store.taken(claim.asked, period.span) > 0)
    return min((claim.slack_min(period.room, period.span) for period in touched), default=EVER)


def change_over_hours(world: World, studio: StudioRecord, store: Store, period: Period) -> tuple[Span, ...]:
    """The minutes of a period, from now on, in which somebody is there and nothing is drawn.

    Not its first: in that minute it has been refilled, and no supply is refilled twice in a minute.
    """
    if not store.change_over:
        return ()
    begin, end = max(period.span[0] + 1, world.now), min(period.span[1], world.horizon[1])
    there = intersect(studio.staffed[Duty.PRESENT], [(begin, end)]) if begin < end else ()
    return subtract(there, [span for span, _ in store.draws.steps_in(begin, end)])


def _changed_over(claim: _Claim, period: Period, hours: Sequence[Span]) -> Stocked | None:
    """The last moment before the first draw at which somebody may change over, if that is enough."""
    begin, (opens, closes) = claim.begin, period.span
    minute = max((min(begin, end - 1) for start, end in hours if start <= begin), default=None)
    if minute is None or not opens <= begin < closes:
        return None
    rest = (minute, closes)
    room = room_after(claim.store, rest)
    if claim.more(rest) > max(room, 0.0) + SPARE:
        return None
    change = ChangeOver(supply_id=claim.supply_id, at=minute, content=claim.store.full)
    # What goes on into later periods takes more out of them, the later it begins.
    periods = [Period(span=rest, room=room), *(p for p in claim.store.periods if p.span[0] >= closes)]
    return Stocked(reasons=(), change_overs=(change,), slack_min=_slack_min(claim, periods))


def room_after(store: Store, rest: Span) -> float:
    """What may still be booked in the rest of a period when it begins with full cylinders."""
    return store.full - store.floor - store.booked(rest)


def below(store: Store, period: Period) -> Use:
    """The first draw of a period that finds too little left."""
    own = _in_order(store, period)
    return next(_too_little_for(store, period, own), own[-1])


def run_dry(store: Store, since: int) -> list[Use]:
    """The draws that are not over by a minute and find too little left, in order of time."""
    return [
        use
        for period in store.periods
        if period.room < -SPARE
        for use in _too_little_for(store, period, _in_order(store, period))
        if use.span[1] > since
    ]


def _in_order(store: Store, period: Period) -> list[Use]:
    own = (use for use in store.draws.meeting(*period.span) if store.taken([use], period.span) > 0)
    return sorted(own, key=lambda use: use.span[1])


def _too_little_for(store: Store, period: Period, own: Iterable[Use]) -> Iterator[Use]:
    left = max(content for minute, content in store.refills if minute == period.span[0])
    for use in own:
        left -= store.taken([use], period.span)
        if left < store.floor - SPARE:
            yield use


def unneeded(store: Store, minutes: Iterable[int]) -> list[int]:
    """The refills, of some, without which the store would last all the same; looked at from the first on."""
    spare: list[int] = []
    for minute in sorted(minutes):
        without = replace(store, refills=tuple(r for r in store.refills if r[0] not in {minute, *spare}))
        before = [period for period in without.periods if period.span[0] < minute]
        if before and before[-1].room >= -SPARE:
            spare.append(minute)
    return spare


def change_over_notes(
    world: World, studio: StudioRecord, change_overs: Iterable[ChangeOver]
) -> Iterator[str]:
    """Who books what brings a change-over is told of it."""
    for change in change_overs:
        yield said(
            "{supply} has to be changed over by {when}: what is left would not last for this.",
            supply=world.supplies[change.supply_id].name,
            when=at(change.at, studio),
        )


def _runs_dry(claim: _Claim, period: Period, hours: Sequence[Span]) -> Reason:
    store, closes = claim.store, period.span[1]
    refilled = closes < EVER
    refill = said("until it is refilled at {when}", when=at(closes, claim.studio)) if refilled else None
    return Reason(
        code="store-empty",
        sentence=said(
            "{supply} has {room:.5g} {unit} left for this {until}, and this takes {more:.5g} {unit}; "
            "{remedy}.",
            supply=claim.world.supplies[claim.supply_id].name,
            room=max(period.room, 0.0),
            unit=store.unit,
            until=refill or said("and no refill is entered"),
            more=claim.more(period.span),
            remedy=_remedy(store, hours),
        ),
        until=closes if refilled else None,
        not_before=_not_before(claim, period, hours),
    )


def _remedy(store: Store, hours: Sequence[Span]) -> str:
    if not store.change_over:
        return said("have a delivery recorded before it")
    if not hours:
        return said("nobody is there to change it over before, so have a delivery recorded")
    return said("no change-over before it is enough either")


def _not_before(claim: _Claim, period: Period, hours: Sequence[Span]) -> int | None:
    """A start that the working hours alone put into the next period, or after another change-over.

    What is drawn by heat that others lend, or for firings that others share, may change with the start and is
    left out: where the working hours alone are not too much, the bound is the next minute.
    """
    start, windows = claim.core[0], list(_working(claim))
    if any(hour[0] <= claim.begin for hour in hours):
        # The later it is changed over, the less has to last until it is refilled.
        return start + 1
    begin = max((span[0] for span, _ in windows), default=start)
    end = min((span[1] for span, _ in windows), default=start)
    rate = claim.store.per_min * sum(amount for _, amount in windows)
    room = max(period.room, 0.0) + claim.store.taken(_movable(claim), period.span)
    fits = int((room + SPARE) / rate) if rate > 0 else end - begin
    if min(end, period.span[1]) - max(begin, period.span[0]) <= fits:
        return start + 1
    bounds = [max(start + 1, hour[0]) for hour in hours if hour[0] > claim.begin]
    if period.span[1] < EVER:
        bounds.append(start + period.span[1] - fits - begin)
    return min(bounds, default=None)


def _working(claim: _Claim) -> Iterator[tuple[Span, float]]:
    """What stations draw, over the minutes that move with the start."""
    for part in claim.held:
        hot = claim.world.apparatus[part.apparatus_id].kind in HOT_STATIONS
        for key, use in part.draws:
            if key == claim.supply_id:
                yield (claim.core if hot else use.span), use.amount


def _movable(claim: _Claim) -> Iterable[Use]:
    """What may be drawn less once this is booked: by heat that is lent, and for firings that are shared."""
    ids = {
        taken.occupancy_id
        for apparatus in claim.world.apparatus.values()
        if apparatus.kind in MOVED_FOR_OTHERS and claim.supply_id in dict(apparatus.draws)
        for taken in claim.world.claims(apparatus.id)
    }
    return [use for key in ids - {None} for use in claim.store.draws.by_occupancy.get(key or 0, ())]


def _too_little_glass(
    world: World, studio: StudioRecord, held: Sequence[Held], core: Span
) -> Iterator[Reason]:
    """A session draws its glass when it ends; the pot must stay above its floor until the next charge."""
    drawn: dict[int, float] = {}
    for part in held:
        if part.glass_kg > 0 and part.apparatus_id in world.pots:
            drawn[part.apparatus_id] = drawn.get(part.apparatus_id, 0.0) + part.glass_kg
    for furnace_id, kg in drawn.items():
        store = world.pots[furnace_id].store
        ends = glass_drawn(core[1])
        for period in store.periods:
            if period.span[0] <= ends[0] < period.span[1] and kg > max(period.room, 0.0) + SPARE:
                yield _below_floor(world, studio, furnace_id, period, kg, core)


def glass_drawn(end: int) -> Span:
    """The minute in which a session's glass counts as drawn: its last."""
    return end - 1, end


def _below_floor(
    world: World, studio: StudioRecord, furnace_id: int, period: Period, kg: float, core: Span
) -> Reason:
    store, closes = world.pots[furnace_id].store, period.span[1]
    would_hold = store.floor + period.room - kg
    hint = charge_hint(world, studio, furnace_id, kg, (period.span[0], core[0]))
    return Reason(
        code="pot-below-floor",
        sentence=said(
            "{furnace}: the pot would hold {would_hold:.3g} kg, its floor is {floor:.3g} kg; {hint}.",
            furnace=world.apparatus[furnace_id].name,
            would_hold=would_hold,
            floor=store.floor,
            hint=hint,
        ),
        until=closes if closes < EVER else None,
        not_before=closes - (core[1] - core[0]) + 1 if closes < EVER else None,
    )
