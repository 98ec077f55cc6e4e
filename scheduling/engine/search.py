"""Whether one start works and what it holds, or every reason why it cannot.

A refused start carries, for each cause, a lower bound below which the cause cannot vanish.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, product

from scheduling.engine.heat import relit
from scheduling.engine.kilns import options
from scheduling.engine.latest_end import too_late
from scheduling.engine.people import busy
from scheduling.engine.records import Ask, Duty, FiringHeld, Placement, Reason, Refusal, StudioRecord
from scheduling.engine.rooms import crowded, whole_span, with_people
from scheduling.engine.spans import Span, covers, first_fit
from scheduling.engine.stations import Bundle, Selection, find_stations, warm_notes
from scheduling.engine.stores import Stocked, change_over_notes, stocked
from scheduling.engine.supplies import short
from scheduling.engine.wording import at, between, degrees
from scheduling.engine.world import World


def place(world: World, ask: Ask, start: int) -> Placement | Refusal:
    """Everything that a class or bench time starting at `start` holds; or every reason why it cannot."""
    answer = _place(world, ask, start)
    return answer if isinstance(answer, Placement) else _until_turn(world, ask, answer)


def _until_turn(world: World, ask: Ask, refusal: Refusal) -> Refusal:
    """No bound reckons beyond the start from which on equipment goes by another thermal record."""
    turn = min((turn for turn in turns(world, ask) if turn > refusal.start), default=None)
    if turn is None:
        return refusal
    return replace(
        refusal,
        reasons=tuple(
            replace(reason, not_before=turn if reason.not_before is None else min(turn, reason.not_before))
            for reason in refusal.reasons
        ),
    )


def turns(world: World, ask: Ask) -> set[int]:
    """The starts from which on some equipment of the studio goes by another thermal record."""
    return {
        turn
        for apparatus in world.apparatus.values()
        if apparatus.studio_id == ask.studio_id
        for since, _ in apparatus.bodies[1:]
        for turn in (since, since - ask.teach_min - apparatus.prepare_min)
    }


def _place(world: World, ask: Ask, start: int) -> Placement | Refusal:
    studio = world.studios[ask.studio_id]
    if start < world.now:
        return Refusal(start=start, reasons=tuple(_too_soon(world, studio, ask, start)))
    span = whole_span(ask, start)
    stations = find_stations(world, ask, start)
    reasons = [
        *_too_soon(world, studio, ask, start),
        *_unstaffed(studio, start, span),
        *too_late(studio, ask, start),
        *_busy(world, ask, start, span),
        *stations.reasons,
    ]
    choices: list[tuple[FiringHeld, ...]] = []
    bounds = list(stations.bounds)
    for need in ask.firings:
        found, reason, later = options(world, ask, need, start)
        choices.append(found)
        bounds.extend(later)
        reasons.extend([reason] if reason else [])
    if reasons:
        return Refusal(start=start, reasons=tuple(reasons))
    return _first_that_supplies_carry(
        world, ask, start, stations=stations.choices, firings=choices, bounds=bounds
    )


def _first_that_supplies_carry(
    world: World,
    ask: Ask,
    start: int,
    *,
    stations: Sequence[tuple[Selection, ...]],
    firings: Sequence[tuple[FiringHeld, ...]],
    bounds: Sequence[int],
) -> Placement | Refusal:
    """Alternatives that draw differently on a supply are tried as combinations, the best first."""
    refusals: list[Refusal] = []
    for selections in product(*stations):
        bundles = tuple(chain.from_iterable(selections))
        for chosen in product(*firings):
            lacking, stock = _lacking(world, ask, start, bundles, chosen)
            if not lacking:
                return _placement(world, ask, start, bundles, chosen, stock)
            refusals.append(Refusal(start=start, reasons=lacking))
    # Another combination may be carried sooner than the best one, or with what is not free yet.
    known = [*(r.not_before for r in refusals if r.not_before is not None), *bounds]
    sooner = min(known, default=None)
    reasons = (replace(reason, not_before=sooner) for reason in refusals[0].reasons)
    return Refusal(start=start, reasons=tuple(reasons))


def _lacking(
    world: World, ask: Ask, start: int, bundles: tuple[Bundle, ...], firings: tuple[FiringHeld, ...]
) -> tuple[tuple[Reason, ...], Stocked]:
    """The supplies that would not carry this, or not last for it; what follows it is lit later then."""
    held = [part for bundle in bundles for part in bundle.held]
    later, relit_draws = relit(world, held, (start, start + ask.teach_min))
    asked = [draw for part in (*held, *(firing.held for firing in firings)) for draw in part.draws]
    replaced = _replaced(world, firings) | later
    studio, core = world.studios[ask.studio_id], (start, start + ask.teach_min)
    stock = stocked(world, studio, [*asked, *relit_draws], held, replaced, core)
    lacking = short(world, studio, asked, start, replaced=replaced, relit=relit_draws)
    full = crowded(world, ask, start, held)
    return (*lacking, *full, *stock.reasons), stock


def _placement(
    world: World,
    ask: Ask,
    start: int,
    bundles: tuple[Bundle, ...],
    firings: tuple[FiringHeld, ...],
    stock: Stocked,
) -> Placement:
    return Placement(
        start=start,
        end=start + ask.teach_min,
        person_span=whole_span(ask, start),
        held=with_people(world, ask, start, tuple(part for bundle in bundles for part in bundle.held)),
        firings=firings,
        notes=(
            *warm_notes(world, bundles),
            *_joining(world, ask, firings),
            *change_over_notes(world, world.studios[ask.studio_id], stock.change_overs),
        ),
        change_overs=stock.change_overs,
        slack_min=stock.slack_min,
    )


def _replaced(world: World, firings: Sequence[FiringHeld]) -> frozenset[int]:
    """The occupancies of joined firings: their draws are part of the joined firing's own."""
    joined = {firing.joins for firing in firings if firing.joins is not None}
    return frozenset(
        taken.occupancy_id
        for firing in firings
        for taken in world.claims(firing.held.apparatus_id).meeting(*firing.held.exclusive, 1)
        if taken.firing is not None and taken.firing.id in joined and taken.occupancy_id is not None
    )


def _joining(world: World, ask: Ask, firings: Sequence[FiringHeld]) -> list[str]:
    studio = world.studios[ask.studio_id]
    return [
        f"Joins the firing in {world.apparatus[f.held.apparatus_id].name}, held at "
        f"{degrees(f.hold_c, studio)}; it is then unloaded at {at(f.unload, studio)}."
        for f in firings
        if f.joins is not None
    ]


def earliest(world: World, ask: Ask) -> int:
    """The first start that may be booked now: after the studio's notice, and no set-up lies in the past."""
    notice_min = world.studios[ask.studio_id].notice_min if ask.notice else 0
    return world.now + max(notice_min, ask.setup_min)


def _too_soon(world: World, studio: StudioRecord, ask: Ask, start: int) -> list[Reason]:
    begin = earliest(world, ask)
    if start >= begin:
        return []
    ahead = f"is less than {begin - world.now} minutes ahead"
    why = "is in the past" if start < world.now else ahead
    return [
        Reason(
            code="too-soon",
            sentence=f"{at(start, studio)} {why}; the studio takes bookings from {at(begin, studio)} on.",
            until=begin,
            not_before=begin,
        )
    ]


def _unstaffed(studio: StudioRecord, start: int, span: Span) -> list[Reason]:
    staffed = studio.staffed[Duty.PRESENT]
    if covers(staffed, *span):
        return []
    fit = first_fit(staffed, span[0], span[1] - span[0])
    return [
        Reason(
            code="not-staffed",
            sentence=(
                f"{studio.name} is not staffed for all of {between(*span, studio)}, "
                "set-up and clean-up included."
            ),
            until=fit,
            not_before=None if fit is None else fit + start - span[0],
        )
    ]


def _busy(world: World, ask: Ask, start: int, span: Span) -> list[Reason]:
    reason = busy(world, ask, start, span)
    return [reason] if reason is not None else []
