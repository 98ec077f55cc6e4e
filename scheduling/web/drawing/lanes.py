"""Equipment without a temperature: plain bars, one lane for each, all of a bench in one picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from uuid import UUID

from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import Strip
from scheduling.web.drawing.frame import bands, path, text
from scheduling.web.drawing.ground import WIDTH, Ground, linked, outages, svg
from scheduling.web.drawing.marks import fill
from studios.thermal import Phase

LANE, LONE_LANE = 14.0, 28.0
# Two bars nearer than this leave no room for a name between them: it would be read as either's.
SNUG = 40.0
AMPLE = 200.0  # room enough for a name: the first lane that has it takes it

Tops = Mapping[tuple[UUID, int], float]
Bar = tuple[float, float]  # left and right
Room = tuple[float, float]  # where a name begins, and how much room it has


def lanes(rows: Sequence[Strip], ground: Ground, label: str) -> str:
    """All the rows' places under one another, numbered where they are several pieces of equipment."""
    places = [(one.uid, place) for one in rows for place in range(1, one.places + 1)]
    deep = LANE if len(places) > 1 else LONE_LANE
    height = deep * len(places)
    tops = {place: number * deep for number, place in enumerate(places)}
    body = (
        ground.behind(height)
        + path("".join(f"M0 {n * deep:.0f}H{WIDTH:.0f}" for n in range(1, len(places))), "level")
        + _bars(rows, tops, ground, deep)
        + "".join(outages(one.outages, ground, deep, tops[one.uid, 1]) for one in rows)
        + _links(rows, tops, ground, deep)
        + (_numbers(rows, tops, deep) if len(rows) > 1 else "")
        + ground.now_line(height)
    )
    return svg(height, label, body)


def _held(rows: Sequence[Strip], tops: Tops) -> list[tuple[HeldSpan, float]]:
    return [(held, tops[one.uid, min(held.place, one.places)]) for one in rows for held in one.held]


def _bars(rows: Sequence[Strip], tops: Tops, ground: Ground, deep: float) -> str:
    bars: dict[Phase, str] = defaultdict(str)
    for held, top in _held(rows, tops):
        for phase in held.phases:
            bars[phase.kind] += bands(ground.frame, [phase.span], top + 1.5, deep - 3)
    return "".join(path(d, "phase", fill=fill(kind)) for kind, d in bars.items())


def _links(rows: Sequence[Strip], tops: Tops, ground: Ground, deep: float) -> str:
    """One link for each holder, over all the lanes it takes."""
    found: dict[UUID, list[tuple[HeldSpan, float]]] = defaultdict(list)
    for held, top in _held(rows, tops):
        if ground.frame.shows(held.span):
            found[held.holder.uid].append((held, top))
    lane: dict[float, list[Bar]] = defaultdict(list)
    for held, top in (one for spans in found.values() for one in spans):
        lane[top].append((ground.frame.x(held.span[0]), ground.frame.x(held.span[1])))
    places = {top: label_places(bars) for top, bars in lane.items()}
    return "".join(_over_lanes(spans, ground, deep, places) for spans in found.values())


def _over_lanes(
    spans: Sequence[tuple[HeldSpan, float]],
    ground: Ground,
    deep: float,
    places: Mapping[float, Mapping[Bar, Room]],
) -> str:
    def place(one: tuple[HeldSpan, float]) -> Room:
        held, top = one
        return places[top][ground.frame.x(held.span[0]), ground.frame.x(held.span[1])]

    named = max(spans, key=lambda one: min(place(one)[1], AMPLE))
    first, top = named
    left, room = place(named)
    area = "".join(bands(ground.frame, [held.span], at + 1.5, deep - 3) for held, at in spans)
    return linked(first, area, ground, label_at=(left + 4, top + deep / 2 + 4), room=room)


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
            places |= {bar: (bar[0], bar[1] - bar[0] if roomy else 0.0) for bar in group}
    return places


def _close_together(row: Sequence[Bar]) -> list[tuple[list[Bar], float]]:
    """The bars of a lane in groups that leave no room for a name between them, and where the next begins."""
    groups: list[list[Bar]] = []
    for bar in row:
        if groups and bar[0] - groups[-1][-1][1] < SNUG:
            groups[-1].append(bar)
        else:
            groups.append([bar])
    ends = [group[0][0] for group in groups[1:]] + [WIDTH]
    return list(zip(groups, ends, strict=True))


def _numbers(rows: Sequence[Strip], tops: Tops, deep: float) -> str:
    return "".join(text(3, tops[one.uid, 1] + deep - 3.5, str(one.number), cls="level-label") for one in rows)
