"""The minute before which no plan is ready, however its loads are made up: shelves hold so much, no more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from heapq import merge

from scheduling.engine.kiln_work.candidates import Bench
from scheduling.engine.kiln_work.kilns import KilnRun
from scheduling.engine.kiln_work.stood import stood_in, with_spacing_mm2
from scheduling.engine.kiln_work.turns import next_turn, turns


def ready_bound(bench: Bench) -> int | None:
    """The minute before which nobody can have all pieces back from a studio; None where they never can."""
    since, ready = bench.first, bench.first
    for step, firing in enumerate(bench.asked.route.firings):
        last = _last_piece(bench, step, ready)
        all_of_it = _all_fired(bench, step, since)
        first = _last_piece(bench, step, since)
        if last is None or all_of_it is None or first is None:
            return None
        cold = bench.asked.cold_min_each * firing.cold_work
        since, ready = first + cold, max(last, all_of_it) + cold
    return ready


def _last_piece(bench: Bench, step: int, since: int) -> int | None:
    """When a piece that comes at a minute can be out of the kiln."""
    found = (next_turn(runs, since) for runs in _every(bench, step))
    return min((turn[1] for turn in found if turn is not None), default=None)


def _all_fired(bench: Bench, step: int, since: int) -> int | None:
    """When the kilns can have taken as much as all pieces cover, if nothing else is fired."""
    firing = bench.asked.route.firings[step]
    spacing = min(kind.shelf.spacing_mm for kind in bench.kinds)
    stood = stood_in(firing, bench.asked.pieces, range(len(bench.asked.pieces)))
    left = sum(with_spacing_mm2(one.footprint, spacing) for one in stood)
    taken = (
        _with_room(turns(bench.usable.of(key, step), since), kind.room_mm2 * kind.levels_in(firing))
        for kind in bench.kinds
        for key in kind.kiln_ids
    )
    for done, room in merge(*taken):
        left -= room
        if left <= 0:
            return done
    return None


def _with_room(done: Iterable[int], room: int) -> Iterator[tuple[int, int]]:
    return ((minute, room) for minute in done)


def _every(bench: Bench, step: int) -> Sequence[Sequence[KilnRun]]:
    return [bench.usable.of(key, step) for kind in bench.kinds for key in kind.kiln_ids]
