"""The judge of small questions: every start of every load and step, in every combination.

It shares no code with the planner. Each load and step has options, one for each start in each kiln or at each
station. Which two go together is a table of bits; all that is left is tried, the one with the fewest options
first, and given up where one has none.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations

from scheduling.engine.planner.loads import Attended, Gap, KilnWay, Question
from scheduling.engine.planner.project import Key

# The clock of these questions is coarse: a minute of it is an hour, so that there are few starts to try.
DAY = 24
HAIR = 1e-9


@dataclass(frozen=True)
class Option:
    """One way to place a load or a step; `held` is a kiln or a station, taken from `begin` to `end`."""

    key: Key
    held: tuple[str, int] | None
    begin: int
    start: int
    unload: int
    end: int
    draws: tuple[tuple[int, float], ...]
    switched_off: int
    cost: float
    comes: frozenset[tuple[int, int]]


def options_of(question: Question) -> list[list[Option]]:
    firings = [
        [option for way in firing.ways for option in _of_kiln(question, firing.key, way)]
        for firing in question.firings
    ]
    return firings + [list(_of_step(question, step)) for step in question.attended]


def _of_kiln(question: Question, key: Key, way: KilnWay) -> Iterator[Option]:
    for start in (minute for begin, end in way.starts for minute in range(begin, end)):
        loading, unload = start - way.prepare_min, _unloading(way, start + way.tail_min)
        if loading >= question.arrives and unload is not None:
            yield Option(
                key=key,
                held=("kiln", way.kiln_id),
                begin=loading,
                start=start,
                unload=unload,
                end=unload + way.clear_min,
                draws=way.draws,
                switched_off=start + way.switching_min,
                cost=way.cost,
                comes=frozenset({(way.studio_id, loading // DAY), (way.studio_id, unload // DAY)}),
            )


def _unloading(way: KilnWay, cool: int) -> int | None:
    """Minute by minute, until somebody is there for as long as it takes."""
    for minute in range(cool, max((end for _, end in way.unload_staffed), default=cool)):
        if any(begin <= minute and minute + way.clear_min <= end for begin, end in way.unload_staffed):
            return minute
    return None


def _of_step(question: Question, step: Attended) -> Iterator[Option]:
    for station in step.stations or (None,):
        for start in (minute for begin, end in step.starts for minute in range(begin, end)):
            end = start + step.minutes
            held = None if station is None else ("station", station)
            if start >= question.arrives and not _taken(question, station, start, end):
                comes = frozenset({(step.studio_id, start // DAY)})
                yield Option(step.key, held, start, start, end, end, (), start, 0.0, comes)


def _taken(question: Question, station: int | None, start: int, end: int) -> bool:
    spans = [span for each in question.stations if each.id == station for span in each.taken]
    return any(start < taken_end and begin < end for begin, taken_end in spans)


def go_together(question: Question, chosen: Sequence[Option]) -> bool:
    """Whether these leave each kiln to one load, keep their gaps and draw no more than there is."""
    pairs = [(a, b) for a in chosen for b in chosen if a.key != b.key]
    if any(a.held and a.held == b.held and a.begin < b.end and b.begin < a.end for a, b in pairs):
        return False
    gaps = {(gap.before, gap.after): gap for gap in question.gaps}
    if any(not _kept(gaps[a.key, b.key], a, b) for a, b in pairs if (a.key, b.key) in gaps):
        return False
    return all(_enough(question, supply.id, chosen) for supply in question.supplies)


def _kept(gap: Gap, before: Option, after: Option) -> bool:
    between = after.begin - before.end
    return between >= gap.least_min and (gap.greatest_min is None or between <= gap.greatest_min)


def _enough(question: Question, supply_id: int, chosen: Sequence[Option]) -> bool:
    """What is drawn rises only where something begins to draw, so only those minutes are looked at."""
    supply = next(each for each in question.supplies if each.id == supply_id)
    ours = [(o.start, o.switched_off, dict(o.draws).get(supply_id, 0.0)) for o in chosen if o.draws]
    drawn = ours + [(begin, end, amount) for (begin, end), amount in supply.drawn]
    return all(
        sum(amount for begin, end, amount in drawn if begin <= minute < end) <= supply.limit + HAIR
        for begin, end, _ in ours
        for minute in {begin, *(other for other, _, _ in drawn if begin <= other < end)}
    )


def _comes_on(days: frozenset[tuple[int, int]], option: Option) -> bool:
    return option.comes <= days


class Judge:
    """All options of a question, and which two of them go together."""

    def __init__(self, question: Question) -> None:
        self.question = question
        self.options = options_of(question)
        bound = {key for gap in question.gaps for key in (gap.before, gap.after)}
        loads = [None if firing.key in bound else firing.ways for firing in question.firings]
        self.alike = [*loads, *(None for _ in question.attended)]
        self.beside = [
            [[self._bits([option], others) for others in self.options] for option in mine]
            for mine in self.options
        ]

    def _bits(self, chosen: list[Option], others: Iterable[Option]) -> int:
        return sum(
            1 << at
            for at, other in enumerate(others)
            if other.key == chosen[0].key or go_together(self.question, [*chosen, other])
        )

    def earliest(self) -> int | None:
        """The least minute by which everything can be over; what can be over by one can by any later one."""
        minutes = sorted({option.end for options in self.options for option in options})
        at = bisect_left(minutes, True, key=lambda latest: self.possible(lambda option: option.end <= latest))
        return minutes[at] if at < len(minutes) else None

    def fewest_visits(self) -> int | None:
        """Every set of days on which somebody could come, the smallest first."""
        days = sorted({day for options in self.options for option in options for day in option.comes})
        for count in range(len(days) + 1):
            for chosen in combinations(days, count):
                if self.possible(partial(_comes_on, frozenset(chosen))):
                    return count
        return None

    def cheapest(self) -> float | None:
        """Every sum that some choice of ways costs, the least first."""
        sums = {0.0}
        for options in self.options:
            sums = {round(one + cost, 6) for one in sums for cost in {option.cost for option in options}}
        return next((limit for limit in sorted(sums) if self.possible(None, limit)), None)

    def possible(self, allowed: Callable[[Option], bool] | None, limit: float = float("inf")) -> bool:
        left = [
            sum(1 << at for at, option in enumerate(options) if allowed is None or allowed(option))
            for options in self.options
        ]
        return self._goes_on(left, {}, limit + HAIR)

    def _goes_on(self, left: list[int], chosen: dict[int, Option], limit: float) -> bool:
        open_ones = [number for number in range(len(left)) if number not in chosen]
        if not open_ones:
            return True
        if not all(left[number] for number in open_ones) or self._least_cost(left, chosen) > limit:
            return False
        number = min(open_ones, key=lambda each: left[each].bit_count())
        for at, option in enumerate(self.options[number]):
            if not left[number] >> at & 1 or not self._in_order(number, option, chosen):
                continue
            if go_together(self.question, [*chosen.values(), option]):
                narrowed = [bits & more for bits, more in zip(left, self.beside[number][at], strict=True)]
                if self._goes_on(narrowed, {**chosen, number: option}, limit):
                    return True
        return False

    def _in_order(self, number: int, option: Option, chosen: dict[int, Option]) -> bool:
        """Of loads that are alike and wait for nothing, the first named comes first: it is all the same."""
        return all(
            (option.begin >= other.begin) if number > each else (option.begin <= other.begin)
            for each, other in chosen.items()
            if self.alike[each] is not None and self.alike[each] == self.alike[number]
        )

    def _least_cost(self, left: list[int], chosen: dict[int, Option]) -> float:
        open_ones = [number for number in range(len(left)) if number not in chosen]
        return sum(option.cost for option in chosen.values()) + sum(
            min(option.cost for at, option in enumerate(self.options[number]) if left[number] >> at & 1)
            for number in open_ones
        )
