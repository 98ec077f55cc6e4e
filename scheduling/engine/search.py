"""Whether one start works and what it holds, or every reason why it cannot.

A refused start carries, for each cause, a lower bound below which the cause cannot vanish.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, product

from scheduling.engine.judged import Plan, judged
from scheduling.engine.kept_hot import bettered, kept_notes
from scheduling.engine.latest_end import too_late
from scheduling.engine.patience import wait_notes, waits_on_a_store
from scheduling.engine.people import assisting, assisting_notes, busy, unassisted
from scheduling.engine.records import Ask, Duty, FiringHeld, Placement, Reason, Refusal, StudioRecord
from scheduling.engine.rooms import whole_span, with_people
from scheduling.engine.spans import Span, covers, first_fit
from scheduling.engine.stations import Selection, find_stations, warm_notes
from scheduling.engine.stores import change_over_notes
from scheduling.engine.ways import Ways, combinations
from scheduling.engine.wording import at, between, degrees
from scheduling.engine.world import World
from studios.said import said


def place(world: World, ask: Ask, start: int, *, keep_hot: bool = True) -> Placement | Refusal:
    """Everything that a class or bench time starting at `start` holds; or every reason why it cannot.

    `keep_hot`: with what is kept hot rather than heated again, where that takes less; it works without, too.
    """
    answer = _place(world, ask, start, keep_hot=keep_hot)
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


def _place(world: World, ask: Ask, start: int, *, keep_hot: bool) -> Placement | Refusal:
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
        *unassisted(world, ask, start, span),
        *stations.reasons,
    ]
    choices: list[Ways] = []
    bounds = list(stations.bounds)
    for need in ask.firings:
        ways = Ways(world, ask, need, start)
        choices.append(ways)
        reason = ways.none()
        reasons.extend([reason] if reason else [])
    if reasons:
        return Refusal(start=start, reasons=tuple(reasons))
    plan = _first_that_supplies_carry(
        world, ask, start, stations=stations.choices, firings=choices, bounds=bounds
    )
    if isinstance(plan, Refusal):
        return plan
    return _placement(world, ask, start, bettered(world, ask, plan) if keep_hot else plan)


def _first_that_supplies_carry(
    world: World,
    ask: Ask,
    start: int,
    *,
    stations: Sequence[tuple[Selection, ...]],
    firings: Sequence[Ways],
    bounds: Sequence[int],
) -> Plan | Refusal:
    """Alternatives that draw differently on a supply are tried as combinations, the best first."""
    refusals: list[Refusal] = []
    for selections in product(*stations):
        bundles = tuple(chain.from_iterable(selections))
        for chosen in combinations(firings):
            plan = judged(world, ask, start, bundles, chosen)
            if not plan.lacking:
                return plan
            refusals.append(Refusal(start=start, reasons=plan.lacking))
    # Another combination may be carried sooner than the best one, or with what is not free yet.
    known = [*(r.not_before for r in refusals if r.not_before is not None), *bounds]
    known.extend(bound for ways in firings for bound in ways.bounds())
    sooner = min(known, default=None)
    reasons = (replace(reason, not_before=sooner) for reason in refusals[0].reasons)
    return Refusal(start=start, reasons=tuple(reasons))


def _placement(world: World, ask: Ask, start: int, plan: Plan) -> Placement:
    stock, firings, span = plan.stock, plan.firings, whole_span(ask, start)
    assistants = assisting(world, ask, span)
    return Placement(
        start=start,
        end=start + ask.teach_min,
        person_span=span,
        assistant_ids=assistants,
        held=with_people(world, ask, start, plan.held),
        firings=firings,
        notes=(
            *assisting_notes(world, assistants),
            *warm_notes(world, plan.bundles),
            *kept_notes(world, plan),
            *_joining(world, ask, firings),
            *wait_notes(world, firings),
            *change_over_notes(world, world.studios[ask.studio_id], stock.change_overs),
        ),
        change_overs=stock.change_overs,
        slack_min=0 if waits_on_a_store(world, firings) else stock.slack_min,
        kept_hot=plan.kept_after,
    )


def _joining(world: World, ask: Ask, firings: Sequence[FiringHeld]) -> list[str]:
    studio = world.studios[ask.studio_id]
    return [
        said(
            "Joins the firing in {equipment}, held at {degrees}; it is then unloaded at {when}.",
            equipment=world.apparatus[f.held.apparatus_id].name,
            degrees=degrees(f.hold_c, studio),
            when=at(f.unload, studio),
        )
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
    ahead = said("is less than {minutes} minutes ahead", minutes=begin - world.now)
    why = said("is in the past") if start < world.now else ahead
    return [
        Reason(
            code="too-soon",
            sentence=said(
                "{when} {why}; the studio takes bookings from {begin} on.",
                when=at(start, studio),
                why=why,
                begin=at(begin, studio),
            ),
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
            sentence=said(
                "{studio} is not staffed for all of {hours}, set-up and clean-up included.",
                studio=studio.name,
                hours=between(*span, studio),
            ),
            until=fit,
            not_before=None if fit is None else fit + start - span[0],
        )
    ]


def _busy(world: World, ask: Ask, start: int, span: Span) -> list[Reason]:
    reason = busy(world, ask, start, span)
    return [reason] if reason is not None else []
