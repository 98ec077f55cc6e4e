"""A plan as it is told: each load placed by the engine, one after the other, as it will be booked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, StandPlanned
from scheduling.engine.kiln_work.asked import HandDone
from scheduling.engine.kiln_work.bare import apart, bare_firing, cold_work, enter, flat_piece
from scheduling.engine.kiln_work.costs import firing_cost
from scheduling.engine.kiln_work.handwork import latest_before
from scheduling.engine.kiln_work.laying import LoadLaid, OnShelf
from scheduling.engine.kiln_work.question import Asking, days_of
from scheduling.engine.kiln_work.routes import Before, Handwork
from scheduling.engine.kiln_work.stood import taken_cm2
from scheduling.engine.planner.answers import Fired, Plan
from scheduling.engine.records import Ask, FiringHeld, Placement
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.world import World


@dataclass(kw_only=True)
class Written:
    """A plan on its way: the loads and the handwork that are written so far, in a world that has them."""

    asking: Asking
    world: World
    loads: dict[str, LoadPlanned] = field(default_factory=dict)
    handwork: list[HandworkPlanned] = field(default_factory=list)


def written(asking: Asking, plan: Plan) -> Written | None:
    """Every load and all handwork of a plan; None where the engine would not place it just so."""
    made = Written(asking=asking, world=apart(asking.world))
    steps = {done.key: done for done in plan.steps}
    for fired in sorted(plan.firings, key=lambda one: (one.loading, str(one.key))):
        if not _write_load(made, fired):
            return None
    for key, part in asking.cold.items():
        done = steps[key]
        begin = done.start + asking.beside_cold_work[0]
        if not _write_cold(made, key[0], part, begin, done.station_id or 0):
            return None
    return made if _write_by_hand(made) else None


def _placed(made: Written, ask: Ask, start: int) -> Placement | None:
    """What a start holds, entered for those after it."""
    answer = place(made.world, ask, start)
    if not isinstance(answer, Placement):
        return None
    for held in (*answer.held, *(firing.held for firing in answer.firings)):
        enter(made.world, held, ask.title)
    return answer


def _write_load(made: Written, fired: Fired) -> bool:
    key, asking = str(fired.key), made.asking
    load, kiln = asking.scheme.loads[key], asking.world.apparatus[fired.kiln_id]
    footprint_cm2 = min(_taken_cm2(load), kiln.capacity_cm2)
    ask = bare_firing(
        title=asking.asked.title,
        studio_id=kiln.studio_id,
        kiln_id=kiln.id,
        recipe=asking.asked.route.firings[load.step].recipe,
        piece=flat_piece(asking.asked.glass, asking.asked.thickness_mm),
        footprint_cm2=footprint_cm2,
    )
    answer = _placed(made, ask, fired.loading)
    if answer is None:
        return False
    (held,) = answer.firings
    made.loads[key] = _load(asking, key, load, held, footprint_cm2)
    return (held.cool, held.unload, held.held.span[1]) == (fired.cool, fired.unload, fired.done)


def _load(asking: Asking, key: str, load: LoadLaid, held: FiringHeld, footprint_cm2: int) -> LoadPlanned:
    begins, done = held.held.span
    kiln_id, studio_id = held.held.apparatus_id, asking.studio_id
    return LoadPlanned(
        key=key,
        step=load.step + 1,
        recipe=held.recipe,
        kiln_id=kiln_id,
        studio_id=studio_id,
        begins=begins,
        closed=held.at_hold,
        cool=held.cool,
        unload=held.unload,
        done=done,
        stands=tuple(_stands(load)),
        fill=tuple(_fill(load)),
        footprint_cm2=footprint_cm2,
        energy_kwh=held.energy_kwh,
        cost=firing_cost(
            asking.usable.shelves_of(kiln_id),
            energy_kwh=held.energy_kwh,
            shelves=len(load.shelves),
            minutes=done - begins,
        ),
    )


def _taken_cm2(load: LoadLaid) -> int:
    return taken_cm2((one.footprint for one in load.stood), load.kind.shelf.spacing_mm)


def _fill(load: LoadLaid) -> Iterator[float]:
    """For each shelf how much of what lies within its margin is covered."""
    length, width = load.kind.shelf.usable_mm
    for shelf in load.shelves:
        yield sum(one.footprint.area_mm2 for one, _ in shelf) / (length * width)


def _stands(load: LoadLaid) -> Iterator[StandPlanned]:
    for level, shelf in enumerate(load.shelves, 1):
        for on_shelf in shelf:
            yield from _stands_of(level, on_shelf)


def _stands_of(level: int, on_shelf: OnShelf) -> Iterator[StandPlanned]:
    """Pieces that share a mould stand where it stands."""
    one, placed = on_shelf
    length_mm, width_mm = one.footprint.sides(turned=placed.turned)
    for piece in one.pieces:
        yield StandPlanned(
            piece=piece,
            level=level,
            x_mm=placed.x_mm,
            y_mm=placed.y_mm,
            length_mm=length_mm,
            width_mm=width_mm,
            round=one.footprint.round,
        )


def _write_cold(made: Written, load: str, part: tuple[int, ...], begin: int, station_id: int) -> bool:
    asking, minutes = made.asking, len(part) * made.asking.asked.cold_min_each
    studio_id = asking.studio_id
    ask = cold_work(title=asking.asked.title, studio_id=studio_id, station_id=station_id, minutes=minutes)
    if _placed(made, ask, begin) is None:
        return False
    made.handwork.append(
        HandworkPlanned(
            does=Handwork.COLD_WORK,
            studio_id=studio_id,
            station_id=station_id,
            span=(begin, begin + minutes),
            load=load,
            pieces=len(part),
            of=part,
        )
    )
    return True


def _write_by_hand(made: Written) -> bool:
    """What is washed or prepared before each load, unless it is done, when there is an hour for it."""
    asking = made.asking
    days, spare = _days_visited(asking, _attended(made)), list(asking.asked.done)
    for key, planned in made.loads.items():
        load = asking.scheme.loads[key]
        free = _moulds_free(asking, key, made.loads)
        for need in asking.needs(load):
            if _spared(made, planned, need, spare):
                continue
            since = free if need.does is Handwork.PREPARE_MOULDS else asking.since
            span = latest_before(need, planned.begins, asking.hours, since=since, visited=days)
            if span is None:
                return False
            made.handwork.append(
                HandworkPlanned(
                    does=need.does,
                    studio_id=planned.studio_id,
                    station_id=None,
                    span=span,
                    load=key,
                    pieces=len(planned.stands),
                )
            )
    return True


def _spared(made: Written, load: LoadPlanned, need: Before, spare: list[HandDone]) -> bool:
    """Whether it is done already; each time that it was done is for one load, and no longer `spare` then."""
    asking = made.asking
    reused = {after for _, after in asking.waits_for_moulds}
    if need.does is Handwork.PREPARE_MOULDS and load.key in reused:
        return False
    good = (each for each in spare if each.serves(need.does, load.studio_id, load.kiln_id, load.begins))
    found = next(good, None)
    if found is not None:
        spare.remove(found)
    return found is not None


def _moulds_free(asking: Asking, key: str, loads: Mapping[str, LoadPlanned]) -> int:
    before = (loads[first].done for first, second in asking.waits_for_moulds if second == key)
    return max(before, default=asking.since)


def _attended(made: Written) -> Iterator[Span]:
    """The hours that a plan has somebody come for."""
    for load in made.loads.values():
        yield load.begins, load.closed
        yield load.unload, load.done
    yield from (work.span for work in made.handwork)


def _days_visited(asking: Asking, attended: Iterable[Span]) -> tuple[Span, ...]:
    begins = sorted({span[0] for span in attended})
    days = days_of(asking.world, asking.studio_id)
    return tuple(day for day in days if any(day[0] <= begin < day[1] for begin in begins))


def visits(made: Written) -> tuple[Span, ...]:
    """One for each day on which somebody comes: from the first thing that is to be done to the last."""
    attended = list(_attended(made))
    found = []
    for day in _days_visited(made.asking, attended):
        here = [span for span in attended if day[0] <= span[0] < day[1]]
        found.append((min(begin for begin, _ in here), max(end for _, end in here)))
    return tuple(found)
