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

Tops = Mapping[tuple[UUID, int], float]


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
    starts = sorted(ground.frame.x(spans[0][0].span[0]) for spans in found.values())
    return "".join(_over_lanes(spans, ground, deep, starts) for spans in found.values())


def _over_lanes(
    spans: Sequence[tuple[HeldSpan, float]], ground: Ground, deep: float, starts: Sequence[float]
) -> str:
    first, top = spans[0]
    right = ground.frame.x(first.span[1])
    room = next((start for start in starts if start >= right), WIDTH) - right
    area = "".join(bands(ground.frame, [held.span], at + 1.5, deep - 3) for held, at in spans)
    return linked(first, area, ground, label_at=(right + 4, top + deep / 2 + 4), room=room)


def _numbers(rows: Sequence[Strip], tops: Tops, deep: float) -> str:
    return "".join(text(3, tops[one.uid, 1] + deep - 3.5, str(one.number), cls="level-label") for one in rows)
