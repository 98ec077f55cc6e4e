"""An option as it is shown: a strip for each piece it holds, until when, and its teacher's day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scheduling.engine.clock import floor_minutes
from scheduling.engine.spans import Span
from scheduling.selectors.options import HeldLine, Option
from scheduling.templatetags.heat import PHASES
from scheduling.web.drawing.frame import Frame
from scheduling.web.drawing.held import HEIGHTS, clock_strip, frame_of, held_strip
from scheduling.web.drawing.marks import MARKS, SAID, definitions, sample, swatch
from scheduling.web.held_words import until, way
from studios.thermal import Phase

GROUND = '<rect class="night" width="32" height="16"/><rect class="staffed" x="10" width="14" height="16"/>'
CURVE = '<path class="sample-curve" d="M1 14L8 3H14C18 3 20 13 31 14"/>'

Sample = tuple[SafeString, Promise | str, Promise | str]


@dataclass(frozen=True, kw_only=True)
class Row:
    """Pieces of equipment that are held alike: their names, until when, and one strip for all of them."""

    names: str
    until: str
    joins: bool
    strip: SafeString


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A start that works, as it is read; `free_at` is when the last of it is free again."""

    option: Option
    clock: SafeString
    rows: tuple[Row, ...]
    ways: tuple[str, ...]
    free_at: dt.datetime


def shown(option: Option) -> Shown:
    """An option with all that it holds, drawn over one clock."""
    taught = floor_minutes(option.starts_at), floor_minutes(option.ends_at)
    frame = frame_of([taught, *(_span(line) for line in option.held)])
    zone = option.studio.zone
    return Shown(
        option=option,
        clock=_drawn(clock_strip(frame, taught, zone)),
        rows=tuple(_row(option, alike, taught, frame) for alike in _alike(option.held)),
        ways=tuple(way(journey, zone) for journey in option.journeys),
        free_at=max((line.ends_at for line in option.held), default=option.ends_at),
    )


def legend(starts: Iterable[Shown]) -> list[Sample]:
    """What the fills mean, only those that are seen."""
    return legend_of({phase.kind for start in starts for line in start.option.held for phase in line.curve})


def legend_of(kinds: Collection[Phase]) -> list[Sample]:
    """What the fills of some phases mean, the ground, and the line."""
    if not kinds:
        return []
    return [
        *((_drawn(swatch(kind)), PHASES[kind.value], SAID[kind]) for kind in MARKS if kind in kinds),
        (_drawn(sample(GROUND)), _("light ground"), _("somebody is there")),
        (_drawn(sample(CURVE)), _("line"), _("temperature; its height is the heat")),
    ]


def paints() -> SafeString:
    """What the strips of a page are painted with; once for each page."""
    return _drawn(definitions(HEIGHTS))


def _row(option: Option, alike: Sequence[HeldLine], taught: Span, frame: Frame) -> Row:
    first = alike[0]
    return Row(
        names=", ".join(_name(line) for line in alike),
        until=until(first, option.starts_at, option.studio.zone),
        joins=first.joins is not None,
        strip=_drawn(held_strip(first.curve, taught, option.staffed, frame)),
    )


def _alike(held: Iterable[HeldLine]) -> list[Sequence[HeldLine]]:
    """Equipment held through the same phases stands in one row: Torch 1, Torch 2, Torch 3."""
    groups = groupby(held, key=lambda line: (line.equipment.kind, line.phases, line.joins))
    return [list(group) for _alike_in, group in groups]


def _name(line: HeldLine) -> str:
    if line.equipment.places == 1:
        return line.equipment.name
    return _("%(equipment)s, place %(number)s") % {"equipment": line.equipment.name, "number": line.place}


def _span(line: HeldLine) -> Span:
    return floor_minutes(line.starts_at), floor_minutes(line.ends_at)


def _drawn(markup: str) -> SafeString:
    # Every word in a drawing is escaped where it is drawn.
    return mark_safe(markup)  # noqa: S308
