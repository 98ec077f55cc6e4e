"""What holds for every plan of kiln work, read from the plan and from the world that it was made for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned
from scheduling.engine.kiln_work.asked import MouldAsked, WorkAsked
from scheduling.engine.kiln_work.bare import apart, bare_firing, cold_work, enter, flat_piece, never_waiting
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.records import Duty, Placement
from scheduling.engine.search import place
from scheduling.engine.spans import Span, covers
from scheduling.engine.world import World


def assert_sound(world: World, asked: WorkAsked, plan: WorkPlanned) -> None:
    """Everything at once."""
    every_piece_is_in_each_firing_once(asked, plan)
    no_piece_is_in_two_places(asked, plan)
    shelves_hold_what_stands_on_them(asked, plan)
    handwork_is_done_in_time(world, asked, plan)
    moulds_are_there(asked, plan)
    it_is_placed_just_so(world, asked, plan)
    assert plan.bound <= plan.ready
    assert plan.shelves_bound <= plan.shelves
    assert abs(sum(plan.cost_of) - plan.cost) < 1e-6
    assert abs(sum(load.cost for load in plan.loads) - plan.cost) < 1e-6


def every_piece_is_in_each_firing_once(asked: WorkAsked, plan: WorkPlanned) -> None:
    """In each that it still needs, and each time at the studio where it is."""
    for step in range(1, len(asked.route.firings) + 1):
        fired = [stand.piece for load in plan.loads if load.step == step for stand in load.stands]
        assert sorted(fired) == [n for n, piece in enumerate(asked.pieces) if piece.first < step]
    where = {(stand.piece, load.studio_id) for load in plan.loads for stand in load.stands}
    where |= {(piece, work.studio_id) for work in plan.handwork for piece in work.of}
    assert len(where) == len({piece for piece, _ in where})
    assert all(asked.pieces[piece].studio_id in {None, studio_id} for piece, studio_id in where)


def no_piece_is_in_two_places(asked: WorkAsked, plan: WorkPlanned) -> None:
    first = asked.arrives + asked.route.first_after_min
    for load in plan.loads:
        for piece in _pieces(load):
            free = asked.pieces[piece].free
            assert load.begins >= (first if free is None else free)
    for one, other in combinations(sorted(plan.loads, key=lambda load: load.step), 2):
        if one.step < other.step and _pieces(one) & _pieces(other):
            assert one.done <= other.begins
    _cold_work_is_between(asked, plan)


def _cold_work_is_between(asked: WorkAsked, plan: WorkPlanned) -> None:
    """Each piece is worked once after each firing that asks for it, and goes on when it is."""
    due: Counter[tuple[int, int]] = Counter()
    for n, own in enumerate(asked.pieces):
        to_come = range(own.first, len(asked.route.firings))
        wanted = [step + 1 for step in to_come if asked.route.firings[step].cold_work]
        due.update((n, step) for step in wanted + [own.first] * own.unworked if asked.cold_min_each)
    for work in _of(plan, Handwork.COLD_WORK):
        assert work.pieces == len(work.of)
        assert work.span[1] - work.span[0] == len(work.of) * asked.cold_min_each
        for piece in work.of:
            step = _load(plan, work).step if work.load else asked.pieces[piece].first
            due[piece, step] -= 1
            since = _load(plan, work).done if work.load else asked.pieces[piece].free or 0
            assert since <= work.span[0]
            following = [load for load in plan.loads if load.step == step + 1 and piece in _pieces(load)]
            assert all(work.span[1] <= load.begins for load in following)
    assert not +due
    assert not -due


def shelves_hold_what_stands_on_them(asked: WorkAsked, plan: WorkPlanned) -> None:
    shelves = {each.kiln_id: each for each in asked.kilns}
    for load in plan.loads:
        own, firing = shelves[load.kiln_id], asked.route.firings[load.step - 1]
        assert (
            max(stand.level for stand in load.stands)
            == len(load.fill)
            <= (own.levels if firing.stacks else 1)
        )
        assert all(0 < fill <= 1 for fill in load.fill)
        for stand in load.stands:
            shelf, margin = own.shelf, own.shelf.margin_mm
            assert margin <= stand.x_mm <= shelf.length_mm - margin - stand.length_mm
            assert margin <= stand.y_mm <= shelf.width_mm - margin - stand.width_mm


def handwork_is_done_in_time(world: World, asked: WorkAsked, plan: WorkPlanned) -> None:
    spare = list(asked.done)
    for load in plan.loads:
        moulded = any(_mould(asked, load, stand.piece) for stand in load.stands)
        for need in asked.route.firings[load.step - 1].before:
            done = [work for work in _of(plan, need.does) if work.load == load.key]
            already = [
                each
                for each in spare
                if (each.does, each.studio_id) == (need.does, load.studio_id)
                and each.kiln_id in {None, load.kiln_id}
                and each.dry <= load.begins <= each.until
            ]
            if (need.does is Handwork.WASH_SHELVES or moulded) and not done and already:
                spare.remove(already[0])
                continue
            assert len(done) == (need.does is Handwork.WASH_SHELVES or moulded)
            for work in done:
                assert work.span[1] - work.span[0] == need.minutes
                assert work.span[1] + need.dry_min <= load.begins <= work.span[1] + need.within_min
                assert work.span[0] >= world.now
                assert covers(world.studios[work.studio_id].staffed[Duty.LOAD], *work.span)


def moulds_are_there(asked: WorkAsked, plan: WorkPlanned) -> None:
    """From being prepared until unloaded each mould is in one load."""
    held: dict[MouldAsked, list[tuple[Span, int]]] = {}
    for load in plan.loads:
        for mould, count in _moulds(asked, load).items():
            prepared = [w.span[0] for w in _of(plan, Handwork.PREPARE_MOULDS) if w.load == load.key]
            held.setdefault(mould, []).append(((min([load.begins, *prepared]), load.done), count))
    for mould, spans in held.items():
        fired = [((load.begins, load.done), _moulds(asked, load)[mould]) for load in plan.loads]
        for (begin, _), _ in spans:
            assert sum(count for (since, until), count in spans if since <= begin < until) <= mould.count
        for begin in (span[0] for span, _ in (*fired, *mould.held)):
            own = sum(count for (since, until), count in fired if since <= begin < until)
            others = sum(count for (since, until), count in mould.held if since <= begin < until)
            assert not own or own + others <= mould.count


def it_is_placed_just_so(world: World, asked: WorkAsked, plan: WorkPlanned) -> None:
    """The engine places the same loads and the same cold work, one after the other, to the minute."""
    book = apart(never_waiting(world))
    for load in plan.loads:
        ask = bare_firing(
            title=asked.title,
            studio_id=load.studio_id,
            kiln_id=load.kiln_id,
            recipe=load.recipe,
            piece=flat_piece(asked.glass, asked.thickness_mm),
            footprint_cm2=load.footprint_cm2,
        )
        answer = place(book, ask, load.begins)
        assert isinstance(answer, Placement), answer
        (firing,) = answer.firings
        assert (load.closed, load.cool, load.unload, load.done) == (
            firing.at_hold,
            firing.cool,
            firing.unload,
            firing.held.span[1],
        )
        assert firing.last_in == firing.at_hold
        enter(book, firing.held, asked.title)
    for work in _of(plan, Handwork.COLD_WORK):
        ask = cold_work(
            title=asked.title,
            studio_id=work.studio_id,
            station_id=work.station_id or 0,
            minutes=work.span[1] - work.span[0],
        )
        answer = place(book, ask, work.span[0])
        assert isinstance(answer, Placement), answer
        for held in answer.held:
            enter(book, held, asked.title)


def _pieces(load: LoadPlanned) -> set[int]:
    return {stand.piece for stand in load.stands}


def _of(plan: WorkPlanned, does: Handwork) -> Iterator[HandworkPlanned]:
    return (work for work in plan.handwork if work.does is does)


def _load(plan: WorkPlanned, work: HandworkPlanned) -> LoadPlanned:
    return next(load for load in plan.loads if load.key == work.load)


def _mould(asked: WorkAsked, load: LoadPlanned, piece: int) -> MouldAsked | None:
    return asked.pieces[piece].mould if asked.route.firings[load.step - 1].in_moulds else None


def _moulds(asked: WorkAsked, load: LoadPlanned) -> Counter[MouldAsked]:
    """The moulds in a load: pieces that share one stand at the same place."""
    places = {
        (mould, stand.level, stand.x_mm, stand.y_mm)
        for stand in load.stands
        if (mould := _mould(asked, load, stand.piece)) is not None
    }
    return Counter(mould for mould, *_ in places)
