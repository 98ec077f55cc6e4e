"""What is booked on one piece of equipment, and what is drawn from one supply, in the order of time.

These are the only parts of a world that change in place: one claim is added or taken out, and whatever has
been worked out from the others stays. A question looks only at what is near the minutes it asks for.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, overload

from scheduling.engine.spans import TOLERANCE, Span, levels, union

if TYPE_CHECKING:
    from scheduling.engine.records import Taken, Use

DAY_MIN = 24 * 60
# The starts that are forbidden, as when they begin and when they end; sorted and apart.
Forbidden = tuple[list[int], list[int]]
Window = tuple[int, int, int]


class Claims(Sequence["Taken"]):
    """What is taken on one piece of equipment; place 0 of a claim means every place."""

    def __init__(self, taken: Iterable[Taken] = ()) -> None:
        self._taken = sorted(taken, key=_order)
        self._begins = [claim.span[0] for claim in self._taken]
        self._longest = max((claim.span[1] - claim.span[0] for claim in self._taken), default=0)
        self._forbidden: dict[Window, Forbidden] = {}

    @overload
    def __getitem__(self, at: int) -> Taken: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Taken]: ...
    def __getitem__(self, at: int | slice) -> Taken | Sequence[Taken]:
        return self._taken[at]

    def __len__(self) -> int:
        return len(self._taken)

    def __iter__(self) -> Iterator[Taken]:
        return iter(self._taken)

    def add(self, claim: Taken) -> None:
        """One more claim; each index that stands is spliced where it lies."""
        at = bisect_right(self._taken, _order(claim), key=_order)
        self._taken.insert(at, claim)
        self._begins.insert(at, claim.span[0])
        self._longest = max(self._longest, claim.span[1] - claim.span[0])
        for (place, begin, end), known in self._forbidden.items():
            if claim.place in {0, place}:
                _cover(known, *_kept_from(claim.span, begin, end))

    def remove(self, claim: Taken) -> None:
        """One claim less. Raises ValueError where it is not there."""
        at = self._taken.index(claim, bisect_left(self._begins, claim.span[0]))
        del self._taken[at], self._begins[at]
        for (place, begin, end), known in self._forbidden.items():
            if claim.place in {0, place}:
                self._uncover(known, claim, (place, begin, end))

    def of_place(self, place: int) -> Iterator[Taken]:
        """What is taken at one place; an outage takes every place."""
        return (claim for claim in self._taken if claim.place in {0, place})

    def meeting(self, begin: int, end: int, place: int) -> Iterator[Taken]:
        """What is taken at one place at any minute of [begin, end)."""
        first = bisect_right(self._begins, begin - self._longest)
        for claim in self._taken[first : bisect_left(self._begins, end)]:
            if claim.span[1] > begin and claim.place in {0, place}:
                yield claim

    def ending_after(self, minute: int, place: int) -> Iterator[Taken]:
        """What is taken at one place and over after a minute, in order of time."""
        for at in range(bisect_right(self._begins, minute - self._longest), len(self._taken)):
            claim = self._taken[at]
            if claim.span[1] > minute and claim.place in {0, place}:
                yield claim

    def before(self, minute: int, place: int) -> Taken | None:
        """What worked there last and was over by a minute; of two that ended together, the outage."""
        best: Taken | None = None
        for at in range(bisect_right(self._begins, minute) - 1, -1, -1):
            claim = self._taken[at]
            if best is not None and claim.span[0] + self._longest < best.core[1]:
                break
            late = best is None or (claim.core[1], claim.outage) > (best.core[1], best.outage)
            if late and claim.core[1] <= minute and claim.place in {0, place}:
                best = claim
        return best

    def after(self, minute: int, place: int) -> Taken | None:
        """What works there next, from a minute on."""
        best: Taken | None = None
        for at in range(bisect_right(self._begins, minute - self._longest), len(self._taken)):
            claim = self._taken[at]
            if best is not None and claim.span[0] >= best.core[0]:
                break
            soon = best is None or claim.core[0] < best.core[0]
            if soon and claim.core[0] >= minute and claim.place in {0, place}:
                best = claim
        return best

    def warm_after(self, minute: int, place: int) -> int | None:
        """When the first use to be over after a minute is over; an outage leaves nothing warm."""
        best: int | None = None
        for at in range(bisect_right(self._begins, minute - self._longest), len(self._taken)):
            claim = self._taken[at]
            if best is not None and claim.span[0] >= best:
                break
            if claim.core[1] > minute and not claim.outage and claim.place in {0, place}:
                best = claim.core[1] if best is None else min(best, claim.core[1])
        return best

    def forbidden(self, place: int, begin: int, end: int) -> Forbidden:
        """The starts whose window from s + begin to s + end meets something taken; worked out once."""
        window = (place, begin, end)
        if window not in self._forbidden:
            self._forbidden[window] = _apart(self._taken, window)
        return self._forbidden[window]

    def forget(self) -> None:
        """Throw the indexes away; the next question builds the one it needs."""
        self._forbidden.clear()

    def _uncover(self, known: Forbidden, gone: Taken, window: Window) -> None:
        """Build anew the one stretch of forbidden starts in which a claim lay."""
        _, begin, end = window
        first, last = _kept_from(gone.span, begin, end)
        if first >= last:
            return
        at = bisect_right(known[0], first) - 1
        low = bisect_left(self._begins, known[0][at] + end - 1)
        high = bisect_left(self._begins, known[1][at] + end - 1)
        begins, ends = _apart(self._taken[low:high], window)
        known[0][at : at + 1], known[1][at : at + 1] = begins, ends


def _order(claim: Taken) -> tuple[Span, int]:
    return claim.span, claim.place


def _kept_from(span: Span, begin: int, end: int) -> Span:
    """The starts whose window meets a taken span."""
    return span[0] - end + 1, span[1] - begin


def _apart(taken: Iterable[Taken], window: Window) -> Forbidden:
    place, begin, end = window
    spans = (claim.span for claim in taken if claim.place in {0, place})
    met = union(_kept_from(span, begin, end) for span in spans if span[0] < span[1])
    return [first for first, _ in met], [last for _, last in met]


def _cover(known: Forbidden, first: int, last: int) -> None:
    """One more span of forbidden starts; it becomes one with those that it touches."""
    if first >= last:
        return
    begins, ends = known
    low, high = bisect_left(ends, first), bisect_right(begins, last)
    if low < high:
        first, last = min(first, begins[low]), max(last, ends[high - 1])
    begins[low:high], ends[low:high] = [first], [last]


class Draws(Sequence["Use"]):
    """What is drawn from a supply: use by use, and as steps of one total each."""

    def __init__(self, uses: Iterable[Use] = ()) -> None:
        self._uses = sorted(uses, key=_begin)
        self._begins = [use.span[0] for use in self._uses]
        self._longest = max((use.span[1] - use.span[0] for use in self._uses), default=0)
        self._steps = list(levels((use.span, use.amount) for use in self._uses))
        self._by_occupancy: dict[int, tuple[Use, ...]] = {}
        self._by_day: dict[int, float] = {}
        for use in self._uses:
            self._enter(use, 1)

    @overload
    def __getitem__(self, at: int) -> Use: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Use]: ...
    def __getitem__(self, at: int | slice) -> Use | Sequence[Use]:
        return self._uses[at]

    def __len__(self) -> int:
        return len(self._uses)

    def __iter__(self) -> Iterator[Use]:
        return iter(self._uses)

    @property
    def steps(self) -> Sequence[tuple[Span, float]]:
        """What is drawn at once, as spans of one total, in order, without the idle ones."""
        return self._steps

    @property
    def by_occupancy(self) -> Mapping[int, tuple[Use, ...]]:
        """What each occupancy draws."""
        return self._by_occupancy

    def add(self, use: Use) -> None:
        """One more draw; the steps change only where it lies."""
        at = bisect_right(self._begins, use.span[0])
        self._uses.insert(at, use)
        self._begins.insert(at, use.span[0])
        self._longest = max(self._longest, use.span[1] - use.span[0])
        self._enter(use, 1)
        self._step(use.span, use.amount)

    def remove(self, use: Use) -> None:
        """One draw less. Raises ValueError where it is not there."""
        at = self._uses.index(use, bisect_left(self._begins, use.span[0]))
        del self._uses[at], self._begins[at]
        self._enter(use, -1)
        self._step(use.span, -use.amount)

    def meeting(self, begin: int, end: int) -> Iterator[Use]:
        """What is drawn at any minute of [begin, end)."""
        first = bisect_right(self._begins, begin - self._longest)
        return (u for u in self._uses[first : bisect_left(self._begins, end)] if u.span[1] > begin)

    def steps_in(self, begin: int, end: int) -> Sequence[tuple[Span, float]]:
        """The steps that share a minute with [begin, end)."""
        return self._steps[slice(*self._near(begin, end))]

    def total(self, begin: int, end: int) -> float:
        """What is drawn in [begin, end): amount times minutes."""
        first, last = -(-begin // DAY_MIN), end // DAY_MIN
        if first >= last:
            return self._within(begin, end)
        days = range(first, last) if last - first < len(self._by_day) else self._by_day
        whole = sum(self._by_day.get(day, 0.0) for day in days if first <= day < last)
        return self._within(begin, first * DAY_MIN) + whole + self._within(last * DAY_MIN, end)

    def _within(self, begin: int, end: int) -> float:
        return sum(
            amount * (min(until, end) - max(since, begin))
            for (since, until), amount in self.steps_in(begin, end)
        )

    def _near(self, begin: int, end: int) -> tuple[int, int]:
        if begin >= end:
            return 0, 0
        low = bisect_right(self._steps, begin, key=_step_end)
        return low, bisect_left(self._steps, end, key=_step_begin)

    def _step(self, span: Span, amount: float) -> None:
        low, high = self._near(*span)
        changed = levels([*self._steps[low:high], (span, amount)])
        self._steps[low:high] = _joined(changed)

    def _enter(self, use: Use, sign: int) -> None:
        """Keep what each occupancy and each day draws."""
        begin, end = use.span
        for day in range(begin // DAY_MIN, -(-end // DAY_MIN)):
            inside = min(end, (day + 1) * DAY_MIN) - max(begin, day * DAY_MIN)
            self._by_day[day] = self._by_day.get(day, 0.0) + sign * use.amount * inside
        if use.occupancy_id is not None:
            own = list(self._by_occupancy.pop(use.occupancy_id, ()))
            own.append(use) if sign > 0 else own.remove(use)
            if own:
                self._by_occupancy[use.occupancy_id] = tuple(own)


def _begin(use: Use) -> int:
    return use.span[0]


def _step_begin(step: tuple[Span, float]) -> int:
    return step[0][0]


def _step_end(step: tuple[Span, float]) -> int:
    return step[0][1]


def _joined(steps: Iterable[tuple[Span, float]]) -> list[tuple[Span, float]]:
    """Steps of one total that touch become one."""
    joined: list[tuple[Span, float]] = []
    for (begin, end), amount in steps:
        if joined and joined[-1][0][1] == begin and abs(joined[-1][1] - amount) <= TOLERANCE:
            joined[-1] = ((joined[-1][0][0], end), joined[-1][1])
        else:
            joined.append(((begin, end), amount))
    return joined


class Changes:
    """The minutes at which something at a studio begins or ends; one that is no more does no harm."""

    def __init__(self, minutes: Iterable[int]) -> None:
        self._minutes = sorted(set(minutes))

    def add(self, minutes: Iterable[int]) -> None:
        """Some more."""
        for minute in minutes:
            insort(self._minutes, minute)

    def next_from(self, minute: int) -> int | None:
        """The first that is not before a minute."""
        at = bisect_left(self._minutes, minute)
        return self._minutes[at] if at < len(self._minutes) else None
