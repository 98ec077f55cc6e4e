"""Equipment without a temperature: plain bars, one lane for each, all of a bench in one picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import zip_longest
from uuid import UUID

from scheduling.selectors.sheet import Strip
from scheduling.web.drawing.frame import bar, path, text
from scheduling.web.drawing.ground import WIDTH, Ground, Picture, label_at, linked, outages, svg
from scheduling.web.drawing.naming import Laid, Name, names_of
from scheduling.web.drawing.traced import filled

LANE, LONE_LANE = 14.0, 32.0
NUMBERED = 12.0  # where the number of a lane ends

Tops = Mapping[tuple[UUID, int], float]


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
    """One link for each holder, over all the lanes it takes, named in one of them."""
    found: dict[UUID, list[Laid]] = defaultdict(list)
    for one in laid:
        found[one.held.holder.uid].append(one)
    names = names_of(found, ground.name, numbered)
    return "".join(_over_lanes(some, names.get(uid), ground, deep) for uid, some in found.items())


def _over_lanes(some: Sequence[Laid], name: Name | None, ground: Ground, deep: float) -> str:
    first = some[0] if name is None else name.of
    area = "".join(bar(*one.bar, one.top + 1.5, deep - 3) for one in some)
    label = "" if name is None else label_at(name.x, first.top + deep / 2 + 4, name.words, name.anchor)
    return linked(first.held, area, label, ground, equipment=first.equipment)


def _numbers(rows: Sequence[Strip], tops: Tops, deep: float) -> str:
    return "".join(text(3, tops[one.uid, 1] + deep - 3.5, str(one.number), cls="level-label") for one in rows)
