"""Pictures of the shelves of a load: what stands where, numbered as the roster has it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from scheduling.web.drawing.shelves import ShelfDrawn, Standing, shelf
from scheduling.wording import length, length_unit, sized
from studios.models import Equipment, Studio


@dataclass(frozen=True, kw_only=True)
class Stood:
    """A piece where it stands in a kiln: its shelf from below, and what `Standing` says of it."""

    level: int
    at: Standing


@dataclass(frozen=True, kw_only=True)
class ShelfShown:
    """One shelf as it is read: which it is, its picture, and how much of it glass covers."""

    level: int
    picture: SafeString
    pieces: int
    fill_percent: int | None = None


def shelves_of(kiln: Equipment, stood: Iterable[Stood], fill: Sequence[float] = ()) -> list[ShelfShown]:
    """The shelves of a load from below, each with its picture; a kiln without a shelf has none."""
    if not kiln.shelf_length_mm or not kiln.shelf_width_mm:
        return []
    levels: dict[int, list[Standing]] = {}
    for one in stood:
        levels.setdefault(one.level, []).append(one.at)
    return [
        ShelfShown(
            level=level,
            picture=_picture(kiln, level, on_it),
            pieces=len(on_it),
            fill_percent=round(fill[level - 1] * 100) if level <= len(fill) else None,
        )
        for level, on_it in sorted(levels.items())
    ]


def _picture(kiln: Equipment, level: int, stands: Sequence[Standing]) -> SafeString:
    long, wide = kiln.shelf_length_mm or 1, kiln.shelf_width_mm or 1
    inches = length_unit(kiln.studio) == Studio.LengthUnit.INCH
    facts = {
        "number": level,
        "kiln": kiln.name,
        "size": sized(long, wide, kiln.studio),
        "margin": length(kiln.shelf_margin_mm, kiln.studio),
    }
    return shelf(
        ShelfDrawn(
            length_mm=long,
            width_mm=wide,
            margin_mm=kiln.shelf_margin_mm,
            stands=_together(stands),
            named=_("Shelf %(number)s of %(kiln)s, %(size)s, with %(margin)s free at its edge") % facts,
            said=_said(stands, kiln),
            inches=inches,
        )
    )


def _together(stands: Sequence[Standing]) -> list[Standing]:
    """What lies in one mould stands at one place, under all of its numbers."""
    places: dict[tuple[int, ...], list[Standing]] = {}
    for one in stands:
        places.setdefault((one.x_mm, one.y_mm, one.length_mm, one.width_mm), []).append(one)
    return [_one(every) for every in places.values()]


def _one(every: Sequence[Standing]) -> Standing:
    first = every[0]
    return Standing(
        number=" ".join(one.number for one in every),
        x_mm=first.x_mm,
        y_mm=first.y_mm,
        length_mm=first.length_mm,
        width_mm=first.width_mm,
        round=first.round,
        other=first.other,
    )


def _said(stands: Sequence[Standing], kiln: Equipment) -> str:
    """What stands on it, for those who do not see it: each number, how far from the left and the front."""
    count = ngettext("%(count)s piece.", "%(count)s pieces.", len(stands)) % {"count": len(stands)}
    each = _("%(number)s: %(left)s from the left, %(front)s from the door")
    places = (
        each
        % {
            "number": one.number,
            "left": length(one.x_mm, kiln.studio),
            "front": length(one.y_mm, kiln.studio),
        }
        for one in stands
    )
    return f"{count} {'; '.join(places)}."
