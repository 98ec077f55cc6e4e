"""The minute before which no plan is ready, however its loads are made up: shelves hold so much, no more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from heapq import merge

from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.kiln_work.kilns import KilnRun
from scheduling.engine.kiln_work.laying import ShelfKind, fewest_parts
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.kiln_work.stood import with_spacing_mm2
from scheduling.engine.kiln_work.turns import next_turn, turns


def ready_bound(bench: Bench, *, covered: float = 1.0) -> int | None:
    """The minute before which nobody can have all pieces back; None where they never can.

    At several studios it is as if all their kilns were at one: no plan that parts the pieces is ready sooner.
    It is no more than a guess where less of a shelf is `covered`.
    """
    found = _alone(bench)
    if found is None:
        return None
    soonest, ready = found
    through = bench.first
    for step in bench.steps:
        bounds = [
            _one_fired(bench, step, max(through, soonest[step])),
            _all_fired(bench, (step,), soonest[step], covered),
            _moulds_in_turn(bench, step, soonest[step]),
        ]
        known = [bound for bound in bounds if bound is not None]
        if len(known) < len(bounds):
            return None
        through = max(known) + _cold(bench, step)
    every = _all_fired(bench, bench.steps, bench.first, covered) if bench.steps else ready
    return None if every is None else max(ready, through, every)


def _alone(bench: Bench) -> tuple[dict[int, int], int] | None:
    """When the first piece can go into each firing, and when all are through if each were the only one."""
    soonest: dict[int, int] = {}
    ready = 0
    for since, first in {(begins, bench.asked.pieces[piece].first) for piece, begins in bench.begins.items()}:
        minute: int | None = since
        for step in range(first, len(bench.asked.route.firings)):
            if minute is None:
                return None
            soonest[step] = min(minute, soonest.get(step, minute))
            fired = _one_fired(bench, step, minute)
            minute = None if fired is None else fired + _cold(bench, step)
        if minute is None:
            return None
        ready = max(ready, minute)
    return soonest, ready


def _cold(bench: Bench, step: int) -> int:
    return bench.asked.cold_min_each * bench.asked.route.firings[step].cold_work


def _one_fired(bench: Bench, step: int, since: int) -> int | None:
    """When a piece that comes at a minute can be out of the kiln."""
    runs = [run for kind in bench.kinds for key in kind.kiln_ids for run in bench.usable.of(key, step)]
    turn = next_turn(runs, since)
    return None if turn is None else turn[1]


def _moulds_in_turn(bench: Bench, step: int, since: int) -> int | None:
    """When the last can be out of the kiln where the same moulds are filled again and again."""
    firing, found = bench.asked.route.firings[step], None
    prepared = (need for need in firing.before if need.does is Handwork.PREPARE_MOULDS)
    dry = next((need.minutes + need.dry_min for need in prepared), 0)
    for _ in range(fewest_parts(bench.stood(step))):
        found = _one_fired(bench, step, since)
        if found is None:
            return None
        since = found + dry
    return found


def _all_fired(bench: Bench, steps: Sequence[int], since: int, covered: float) -> int | None:
    """When the kilns can have taken as much as all pieces cover in some firings, and nothing else.

    A shelf that is one of several on posts counts as less, so that a kiln holds about as much in each firing.
    """
    share = {
        step: 1 / max(kind.levels_in(bench.asked.route.firings[step]) for kind in bench.kinds)
        for step in steps
    }
    spacing = min(kind.shelf.spacing_mm for kind in bench.kinds)
    left = sum(
        share[step] * with_spacing_mm2(one.footprint, spacing) for step in steps for one in bench.stood(step)
    )
    taken = (
        _with_room(
            _turns(bench, key, steps, since), max(share[step] * _room(bench, kind, step) for step in steps)
        )
        for kind in bench.kinds
        for key in kind.kiln_ids
    )
    for done, room in merge(*taken):
        left -= room * covered
        if left <= 0:
            return done
    return None


def _room(bench: Bench, kind: ShelfKind, step: int) -> int:
    return kind.room_mm2 * kind.levels_in(bench.asked.route.firings[step])


def _turns(bench: Bench, kiln_id: int, steps: Iterable[int], since: int) -> Iterator[int]:
    """When a kiln is done with firing after firing, each of those that are over first."""
    runs: list[KilnRun] = [run for step in steps for run in bench.usable.of(kiln_id, step)]
    return turns(runs, since)


def _with_room(done: Iterable[int], room: float) -> Iterator[tuple[int, float]]:
    return ((minute, room) for minute in done)
