"""Equipment without a temperature: plain bars, one lane for each, all of a bench in one picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple
from uuid import UUID

from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import Strip
from scheduling.web.drawing.frame import bar, path, text
from scheduling.web.drawing.ground import WIDTH, Ground, Picture, linked, outages, svg
from scheduling.web.drawing.traced import filled

LANE, LONE_LANE = 14.0, 28.0
# Two bars nearer than this leave no room for a name between them: it would be read as either's.
SNUG = 40.0
AMPLE = 200.0  # room enough for a name: the first lane that has it takes it

NUMBERED = 12.0  # where the number of a lane ends

Tops = Mapping[tuple[UUID, int], float]
Bar = tuple[float, float]  # left and right
Room = tuple[float, float]  # where a name begins, and how much room it has


class Laid(NamedTuple):
    """What is held, of which equipment, the top of its lane and where it stands in it."""

    held: HeldSpan
    equipment: UUID
    top: float
    bar: Bar


def lanes(rows: Sequence[Strip], ground: Ground, label: str) -> Picture:
    """All the rows' places under one another, numbered where they are several pieces of equipment."""
    places = [(one.uid, place) for one in rows for place in range(1, one.places + 1)]
    deep = LANE if len(places) > 1 else LONE_LANE
    height = deep * len(places)
    tops = {place: number * deep for number, place in enumerate(places)}
    laid = laid_out(rows, tops, ground)
    body = (
        ground.behind(height)
        + path("".join(f"M0 {n * deep:.0f}H{WIDTH:.0f}" for n in range(1, len(places))), "level")
        + bars_of(laid, ground, deep)
        + "".join(outages(one.outages, ground, deep, tops[one.uid, 1]) for one in rows)
        + links_of(laid, ground, deep, NUMBERED if len(rows) > 1 else 0.0)
        + (_numbers(rows, tops, deep) if len(rows) > 1 else "")
        + ground.now_line(height)
    )
    return svg(height, label, body)


def laid_out(rows: Sequence[Strip], tops: Tops, ground: Ground) -> list[Laid]:
    """Whatever of these days is held, each in its lane."""
    x = ground.frame.x
    return [
        Laid(held, one.uid, tops[one.uid, min(held.place, one.places)], (x(held.span[0]), x(held.span[1])))
        for one in rows
        for held in one.held
        if ground.frame.shows(held.span)
    ]


def bars_of(laid: Sequence[Laid], ground: Ground, deep: float) -> str:
    """Phases of one kind that follow one another are one bar."""
    x, bars = ground.frame.x, defaultdict(list)
    for one in laid:
        left = one.bar[0]
        for phase, after in zip_longest(one.held.phases, one.held.phases[1:]):
            if after is not None and after.kind is phase.kind:
                continue
            right = x(phase.span[1])
            if left < right:
                bars[phase.kind].append(bar(left, right, one.top + 1.5, deep - 3))
            left = right
    return filled(bars)


def links_of(laid: Sequence[Laid], ground: Ground, deep: float, numbered: float = 0.0) -> str:
    """One link for each holder, over all the lanes it takes."""
    found: dict[UUID, list[Laid]] = defaultdict(list)
    lane: dict[float, list[Bar]] = defaultdict(list)
    for one in laid:
        found[one.held.holder.uid].append(one)
        lane[one.top].append(one.bar)
    places = {top: label_places(bars) for top, bars in lane.items()}
    return "".join(_over_lanes(some, ground, deep, places, numbered) for some in found.values())


def _over_lanes(
    some: Sequence[Laid],
    ground: Ground,
    deep: float,
    places: Mapping[float, Mapping[Bar, Room]],
    numbered: float,
) -> str:
    rooms = [places[one.top][one.bar] for one in some]
    best = max(range(len(some)), key=lambda number: min(rooms[number][1], AMPLE))
    named, (left, room) = some[best], rooms[best]
    area = "".join(bar(*one.bar, one.top + 1.5, deep - 3) for one in some)
    begin = max(left, numbered)
    label_at = (begin + 4, named.top + deep / 2 + 4)
    room -= begin - left
    return linked(named.held, area, ground, equipment=named.equipment, label_at=label_at, room=room)


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


def _numbers(rows: Sequence[Strip], tops: Tops, deep: float) -> str:
    return "".join(text(3, tops[one.uid, 1] + deep - 3.5, str(one.number), cls="level-label") for one in rows)
