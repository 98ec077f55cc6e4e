"""The nearest repair of what is broken: its own start with other equipment, else the nearest one, else none.

Each is found by the engine in a world without the booking, and nothing is changed or told by looking.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from scheduling.engine.charges import charge_refused, charge_starts
from scheduling.engine.choosing import nearest
from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.openings import Change
from scheduling.engine.records import Ask, Refusal
from scheduling.engine.search import place
from scheduling.engine.spans import Span, intersect
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from scheduling.errors import Over, SeatsDoNotFit
from scheduling.models import Charge, Occupancy, Outage, Seat, Session
from scheduling.selectors.broken import Broken, Repair, broken_by
from scheduling.selectors.options import Option
from scheduling.services.bench_moves import bench_ask, lock_whole_bench, torch_of, without
from scheduling.services.outages import require_may_enter
from scheduling.services.rehearsing import rehearse_repair, undone
from scheduling.services.transactions import lock, one_rehearsal
from scheduling.snapshot import DAY, bench_spans, horizon_around, load_world
from scheduling.wording import now_said, say, when
from studios.models import Person, Studio

WITHIN_MIN = 21 * DAY


def broken_with_repairs(*, actor: Person, outage: Outage) -> tuple[Broken, ...]:
    """What an outage breaks, for whoever enters outages there. Raises NotAllowed."""
    require_may_enter(actor, outage.equipment)
    return with_repairs(broken_by(outage))


def with_repairs(found: Iterable[Broken]) -> tuple[Broken, ...]:
    """What is broken, each with its nearest repair; that of a class is looked for once."""
    known: dict[int, Repair] = {}
    repaired = []
    for each in found:
        if each.session is not None and each.session.pk not in known:
            known[each.session.pk] = repair_of_session(each.session)
        repair = known[each.session.pk] if each.session is not None else _other(each)
        repaired.append(replace(each, repair=repair))
    return tuple(repaired)


def _other(broken: Broken) -> Repair:
    match broken.subject:
        case Seat():
            return _repair_of_seat(broken.subject)
        case Charge():
            return _repair_of_charge(broken.subject)
        case _ if broken.job is not None:
            return Repair(
                sentence=say(
                    "Plan what has not begun of {job} anew: a plan is sought as if that were not booked, and "
                    "takes its place once it is booked.",
                    job=broken.job.title,
                )
            )
        case _:
            return Repair(
                sentence=say("No class can be moved for it: what becomes of the pieces is for the studio.")
            )


def repair_of_session(session: Session) -> Repair:
    """How a class could be held after all: moved by `move_session` to the start that is found."""
    had = _held_by(session)
    try:
        found = rehearse_repair(session=session)
    except (Over, SeatsDoNotFit) as error:
        return _none([str(error)])
    if isinstance(found.answer, Option):
        return replace(_at(found.answer, had, session), losing=len(found.losing))
    times = (each.option for each in found.answer.openings if each.change == Change.TIME)
    option = next(times, None)
    if option is None:
        return _none([reason.sentence for reason in found.answer.reasons])
    losing = rehearse_repair(session=session, starts_at=option.starts_at).losing
    return replace(_at(option, had, session), losing=len(losing))


def _none(reasons: Sequence[str]) -> Repair:
    said = tuple(now_said(one) for one in reasons)
    return Repair(sentence=say("Nothing near would repair it."), reasons=said)


def _held_by(session: Session) -> set[int]:
    own = session.booking.occupancies.values_list("equipment_id", flat=True)
    return {*own, *session.loads.values_list("firing__equipment_id", flat=True)}


def _at(option: Option, had: set[int], session: Session) -> Repair:
    held = {line.equipment.pk: line.equipment for line in option.held}
    other = [one.name for key, one in held.items() if key not in had]
    same = option.starts_at == session.starts_at
    start = say("At its own time") if same else when(option.starts_at, session.studio)
    alike = say("{start}, with the same equipment.", start=start)
    sentence = say("{start}, with {names}.", start=start, names=", ".join(other)) if other else alike
    return Repair(sentence=sentence, starts_at=option.starts_at, equipment=tuple(held.values()))


@one_rehearsal
def _repair_of_seat(seat: Seat) -> Repair:
    """Bench time at another torch, or at another time, as `move_bench_time` would have it."""
    studio, start = seat.studio, floor_minutes(seat.starts_at)
    with undone():
        lock_whole_bench(seat)
        world = without(seat, seat.starts_at)
    ask = bench_ask(seat)
    answer = place(world, ask, start)
    if isinstance(answer, Refusal):
        other = _nearest(_bench_starts(world, ask, studio, start), start)
        again = answer if other is None else place(world, ask, other)
        if isinstance(again, Refusal):
            return _none([reason.sentence for reason in answer.reasons])
        answer = again
    torch = torch_of(world, answer)
    at = say("At the same time") if answer.start == start else when(moment(answer.start), studio)
    sentence = say("{start}, with {names}.", start=at, names=torch.name)
    return Repair(sentence=sentence, starts_at=moment(answer.start), equipment=(torch,))


def _bench_starts(world: World, ask: Ask, studio: Studio, start: int) -> Sequence[Span]:
    """The starts that work and lie, with the end, in open bench time."""
    within = max(world.now, start - WITHIN_MIN), start + WITHIN_MIN
    hours = bench_spans(studio, within)
    fitting = [(begin, end - ask.teach_min + 1) for begin, end in hours if end - begin >= ask.teach_min]
    return intersect(start_space(world, ask, *within), tuple(fitting))


def _nearest(space: Sequence[Span], start: int) -> int | None:
    known = [other for other in nearest(space, start) if other is not None]
    return min(known, key=lambda minute: abs(minute - start), default=None)


@one_rehearsal
def _repair_of_charge(charge: Charge) -> Repair:
    """The nearest start at which the furnace could be charged, whether or not the pot lasts until then."""
    furnace, start = charge.furnace, floor_minutes(charge.starts_at)
    lock(equipment=[furnace.pk])
    with undone():
        Occupancy.objects.filter(charge=charge).delete()
        world = load_world([furnace.studio], horizon_around(charge.starts_at))
    space = charge_starts(world, furnace.pk, max(world.now, start - WITHIN_MIN), start + WITHIN_MIN)
    other = _nearest(space, start)
    if other is None:
        refusal = charge_refused(world, furnace.pk, start)
        return _none([reason.sentence for reason in refusal.reasons] if refusal else [])
    return Repair(
        sentence=say(
            "{when}; look first whether the glass lasts until then.", when=when(moment(other), furnace.studio)
        ),
        starts_at=moment(other),
        equipment=(furnace,),
    )
