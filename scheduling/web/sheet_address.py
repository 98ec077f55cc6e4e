"""What the address of a week sheet asks for, and the addresses one step away from it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from scheduling.web.weeks import Stretch, read_stretch, week_of
from studios.models import EquipmentKind

SUPPLIES = "supplies"
KINDS: dict[str, Promise] = {
    EquipmentKind.FURNACE: _("Furnaces"),
    EquipmentKind.GLORY_HOLE: _("Glory holes"),
    EquipmentKind.BENCH: _("Benches"),
    EquipmentKind.PIPE_WARMER: _("Pipe warmers"),
    EquipmentKind.ANNEALER: _("Annealers"),
    EquipmentKind.KILN: _("Kilns"),
    EquipmentKind.TORCH: _("Torches"),
    EquipmentKind.COLD_STATION: _("Cold stations"),
    SUPPLIES: _("Supplies"),
}


@dataclass(frozen=True, kw_only=True)
class Address:
    """A stretch of days, of one studio or all, of one kind or all, drawn or as a table, with a piece opened.

    A piece is what one holder holds of one piece of equipment: the keys of both.
    """

    stretch: Stretch
    studio: str = ""
    kind: str = ""
    table: bool = False
    piece: str = ""

    @property
    def query(self) -> str:
        """As it stands behind the path; what is not asked for is left out."""
        return self.behind(self.stretch.query)

    def behind(self, days: str) -> str:
        """The same of other days: as they stand in an address, or none, for now."""
        form = "table" if self.table else ""
        rest = {"studio": self.studio, "kind": self.kind, "as": form, "piece": self.piece}
        asked = urlencode({name: value for name, value in rest.items() if value})
        return "?" + "&".join(filter(None, (days, asked)))

    @property
    def earlier(self) -> str:
        return replace(self, stretch=self.stretch.moved(-1), piece="").query

    @property
    def later(self) -> str:
        return replace(self, stretch=self.stretch.moved(1), piece="").query

    @property
    def whole_week(self) -> str:
        return replace(self, stretch=week_of(self.stretch.first_day), piece="").query

    @property
    def current(self) -> str:
        """The week that goes on now."""
        return replace(self, piece="").behind("")

    @property
    def everywhere(self) -> str:
        return self.at("")

    @property
    def everything(self) -> str:
        return self.of("")

    @property
    def other_form(self) -> str:
        """The same facts as a table; from the table, drawn."""
        return replace(self, table=not self.table, piece="").query

    @property
    def closed(self) -> str:
        """Without its opened piece."""
        return replace(self, piece="").query

    def day(self, day: dt.date) -> str:
        """That day alone."""
        return replace(self, stretch=Stretch(first_day=day, day_count=1), piece="").query

    def week_of(self, day: dt.date) -> str:
        """The week of a day."""
        return replace(self, piece="").behind(f"to={day}")

    def at(self, studio: str) -> str:
        """The same days at one studio; empty: at all."""
        return replace(self, studio=studio, piece="").query

    def of(self, kind: str) -> str:
        """Only one kind of equipment, or only the supplies; empty: all."""
        return replace(self, kind=kind, piece="").query

    def opening(self, piece: str) -> str:
        """With a piece's details beside it; the sheet is found again at them."""
        return f"{replace(self, piece=piece).query}#piece"


def read_address(asked: QueryDict, today: dt.date) -> tuple[Address, str]:
    """What an address asks for, and a sentence where its days cannot be read."""
    stretch, problem = read_stretch(
        week=asked.get("week", ""), day=asked.get("day", ""), to=asked.get("to", ""), today=today
    )
    kind = asked.get("kind", "")
    address = Address(
        stretch=stretch,
        studio=asked.get("studio", ""),
        kind=kind if kind in KINDS else "",
        table=asked.get("as") == "table",
        piece=asked.get("piece", ""),
    )
    return address, problem
