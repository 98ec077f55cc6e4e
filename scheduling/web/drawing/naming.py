"""Where the names of what is held stand in the lanes of a strip: each is read as its own, and none is cut."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

from scheduling.selectors.held import HeldSpan
from scheduling.web.drawing.ground import WIDTH
from scheduling.web.drawing.letters import fits, width

# Two bars nearer than this leave no room for a name between them: it would be read as either's.
SNUG = 40.0
AMPLE = 200.0  # room enough for a name: the first lane that has it takes it
GAP = 4.0  # between a bar and its name

Bar = tuple[float, float]  # left and right
Room = tuple[float, float]  # where a name begins, and how much room it has
Words = Callable[[HeldSpan], tuple[str, ...]]


class Laid(NamedTuple):
    """What is held, of which equipment, the top of its lane and where it stands in it."""

    held: HeldSpan
    equipment: UUID
    top: float
    bar: Bar


class Name(NamedTuple):
    """What is written, of which bar, and from where: to the right of `x`, or to its left (`end`)."""

    of: Laid
    words: str
    x: float
    anchor: str | None = None

    @property
    def extent(self) -> Bar:
        """From where to where it reaches."""
        long = width(self.words)
        return (self.x - long, self.x) if self.anchor else (self.x, self.x + long)


def names_of(found: Mapping[UUID, Sequence[Laid]], words: Words, numbered: float) -> dict[UUID, Name]:
    """Each holder's name in one of its lanes: after its bar or within it, else before it, else nowhere.

    The second of two bars that touch is named after it where the first is named before it.
    """
    lanes: dict[float, list[Laid]] = defaultdict(list)
    for one in (each for some in found.values() for each in some):
        lanes[one.top].append(one)
    taken = {top: [one.bar for one in every] for top, every in lanes.items()}
    places = {top: label_places(bars) for top, bars in taken.items()}
    named: dict[UUID, Name] = {}
    for uid, some in found.items():
        if name := _after(some, places, words, numbered):
            named[uid] = name
            taken[name.of.top].append(name.extent)
    for uid, some in found.items():
        if uid not in named and (name := next(_beside(some, lanes, taken, named, words, numbered), None)):
            named[uid] = name
            taken[name.of.top].append(name.extent)
    return named


def _after(
    some: Sequence[Laid], places: Mapping[float, Mapping[Bar, Room]], words: Words, numbered: float
) -> Name | None:
    best = max(some, key=lambda one: min(places[one.top][one.bar][1], AMPLE))
    left, room = places[best.top][best.bar]
    begin = max(left, numbered) + GAP
    said = fits(words(best.held), room - (begin - left) - 2)
    return Name(best, said, begin) if said else None


def _beside(
    some: Sequence[Laid],
    lanes: Mapping[float, Sequence[Laid]],
    taken: Mapping[float, Sequence[Bar]],
    named: Mapping[UUID, Name],
    words: Words,
    numbered: float,
) -> Iterator[Name]:
    """Wherever there is free room before one of its bars, or after it as the second of a pair."""
    for one in some:
        left, right = one.bar
        near = next((each for each in lanes[one.top] if left - SNUG < each.bar[1] <= left), None)
        if near is None:
            before = max((end for _, end in taken[one.top] if end <= left), default=numbered)
            said = fits(words(one.held), left - before - 3 * GAP)
            if said:
                yield Name(one, said, left - GAP, "end")
        elif _before(named.get(near.held.holder.uid), near):
            after = min((begin for begin, _ in taken[one.top] if begin >= right), default=WIDTH)
            said = fits(words(one.held), after - right - 3 * GAP)
            if said:
                yield Name(one, said, right + GAP)


def _before(name: Name | None, one: Laid) -> bool:
    """Whether a bar is named in its own lane, before it."""
    return name is not None and name.anchor is not None and name.of.top == one.top


def label_places(bars: Sequence[Bar]) -> dict[Bar, Room]:
    """For each bar of one lane, where its name begins and how much room it has there.

    A bar by itself is named in the free room after it. Bars that stand close together are each named inside
    themselves or, where one is too narrow for that, not at all: a name after the last is read as another's.
    """
    places: dict[Bar, Room] = {}
    for group, after in _close_together(sorted(bars)):
        if len(group) == 1:
            right = group[0][1]
            places[group[0]] = (right, after - right)
        else:
            roomy = all(right - left >= SNUG for left, right in group)
            places |= {one: (one[0], one[1] - one[0] if roomy else 0.0) for one in group}
    return places


def _close_together(row: Sequence[Bar]) -> list[tuple[list[Bar], float]]:
    """The bars of a lane in groups that leave no room for a name between them, and where the next begins."""
    groups: list[list[Bar]] = []
    for one in row:
        if groups and one[0] - groups[-1][-1][1] < SNUG:
            groups[-1].append(one)
        else:
            groups.append([one])
    ends = [group[0][0] for group in groups[1:]] + [WIDTH]
    return list(zip(groups, ends, strict=True))
