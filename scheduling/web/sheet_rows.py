"""The rows of a week sheet: each strip with its name, the torches of a bench as one, the supplies below."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby
from uuid import UUID

from django.utils.translation import gettext as _

from scheduling.selectors.sheet import Strip, StudioDays, SupplyStrip
from scheduling.web.clocks import Clock
from scheduling.web.drawing import strips
from scheduling.web.drawing.ground import Ground, Picture
from scheduling.web.links import Said
from scheduling.web.sheet_address import SUPPLIES, Address
from scheduling.web.sheet_piece import Details, kind_said, piece_key
from scheduling.web.sheet_table import Line, lines_of
from studios.models import EquipmentKind


@dataclass(frozen=True, kw_only=True)
class Row:
    """A strip with its name beside it. What has a `page` is linked; `opened` stands below the strip."""

    name: str
    note: str
    picture: Picture
    page: UUID | None = None
    opened: Details | None = None


@dataclass(frozen=True, kw_only=True)
class StudioPart:
    """A studio on the page: its rows, and the same facts for the table."""

    days: StudioDays
    strips: tuple[Strip, ...]
    head: Picture
    rows: tuple[Row, ...]
    supplies: tuple[Row, ...]

    @property
    def height(self) -> float:
        """Of all its strips under one another."""
        return sum(
            each.height for each in (self.head, *(row.picture for row in (*self.rows, *self.supplies)))
        )

    @property
    def lines(self) -> Iterator[Line]:
        """The same facts, to be read."""
        return lines_of(self.strips)

    @property
    def listed(self) -> bool:
        """Something of it is held or out of use, so that its table has a row."""
        return any(strip.held or strip.outages for strip in self.strips)


def part_of(days: StudioDays, address: Address, opened: Details | None, now: int) -> StudioPart:
    """A studio's rows, of the kind that is asked for."""
    shown = tuple(one for one in days.strips if address.kind in {"", one.kind})
    supplies = days.supplies if address.kind in {"", SUPPLIES} else ()
    ground = _ground(days, address, now)
    return StudioPart(
        days=days,
        strips=shown,
        head=strips.head(ground, [address.day(day) for day, _ in days.days]),
        rows=tuple(_rows(shown, ground, opened)),
        supplies=tuple(_supply(one, ground) for one in supplies),
    )


def _ground(days: StudioDays, address: Address, now: int) -> Ground:
    said = Said(Clock(days.studio.zone))
    before, after = escape(address.opening("PIECE")).split("PIECE")
    return Ground.over(
        days,
        now=now,
        link=lambda equipment, held: f"{before}{piece_key(equipment, held)}{after}",
        say=said.whole,
        name=said.names,
        opened=escape(address.opening(address.piece)),
    )


def _rows(shown: tuple[Strip, ...], ground: Ground, opened: Details | None) -> Iterator[Row]:
    for kind, group in groupby(shown, key=lambda one: one.kind):
        some = list(group)
        if kind == EquipmentKind.TORCH and len(some) > 1:
            yield _torch_row(some, ground, opened)
        else:
            yield from (_row(one, ground, opened) for one in some)


def _torch_row(torches: list[Strip], ground: Ground, opened: Details | None) -> Row:
    numbers = {"first": torches[0].number, "last": torches[-1].number}
    name = _("Torches %(first)s to %(last)s") % numbers
    mine = opened if opened and opened.uid in {one.uid for one in torches} else None
    return Row(name=name, note=_("one lane each"), picture=strips.lanes(torches, ground, name), opened=mine)


def _row(one: Strip, ground: Ground, opened: Details | None) -> Row:
    return Row(
        name=one.name,
        note=kind_said(one.kind, one.name),
        picture=strips.strip(one, ground),
        page=one.uid if one.rest_c is not None else None,
        opened=opened if opened and opened.uid == one.uid else None,
    )


def _supply(one: SupplyStrip, ground: Ground) -> Row:
    return Row(name=one.name, note=strips.peak(one), picture=strips.supply(one, ground))
