"""The short lists of the set-up, each with its form: hours, closed days, terms, seasons, own programs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from scheduling.web.setup_forms.base import Words
from scheduling.web.setup_forms.lines import (
    MONTHS,
    WEEKDAYS,
    BenchForm,
    ClosureForm,
    LineForm,
    MouldForm,
    ProcessForm,
    SeasonForm,
    StaffedForm,
    TermForm,
)
from scheduling.web.setup_forms.measured import units_of
from scheduling.wording import measured, on_day, sized
from studios.models import (
    BenchHours,
    Closure,
    Mould,
    OwnProcess,
    Season,
    StaffedHours,
    Studio,
    Term,
    Weekday,
)


@dataclass(frozen=True, kw_only=True)
class Lines:
    """One such list: its words, its form, its rows, and how a row is said."""

    title: Words
    lead: Words
    empty: Words
    add: Words
    form: type[LineForm]
    model: type[Any]
    said: Callable[[Any], str]
    beside: Callable[[Any], str] = lambda _row: ""
    action: str = "set-up"

    def rows(self, studio: Studio) -> QuerySet[Any]:
        """Those of a studio, in their own order; what is kept for old jobs only is not shown."""
        rows = self.model.objects.filter(studio=studio).select_related("studio")
        return rows.filter(active=True) if self.model is Mould else rows


def _hours(row: StaffedHours | BenchHours) -> str:
    day = str(dict(WEEKDAYS)[Weekday(row.weekday)])
    return _("%(day)s, %(opens)s–%(closes)s") % {
        "day": day,
        "opens": f"{row.opens:%H:%M}",
        "closes": f"{row.closes:%H:%M}",
    }


DONE = {
    "may_light": gettext_lazy("lights gas"),
    "may_load": gettext_lazy("loads kilns"),
    "may_unload": gettext_lazy("unloads"),
    "may_charge": gettext_lazy("charges the furnace"),
}


def _duties(row: StaffedHours) -> str:
    """Nothing where somebody does everything, which is the usual case."""
    done = [str(label) for name, label in DONE.items() if getattr(row, name)]
    if len(done) == len(DONE):
        return _("for everything")
    return ", ".join(done) or _("There, for nothing of this")


def _days(row: Closure | Term) -> str:
    first, last = (on_day(day) for day in (row.first_day, row.last_day))
    return first if first == last else _("%(first)s to %(last)s") % {"first": first, "last": last}


def _season(row: Season) -> str:
    unit = units_of(row.studio).difference
    facts = {"name": row.name, "day": row.day, "month": str(dict(MONTHS)[row.month])}
    said = _("%(name)s, from %(day)s %(month)s on") % facts
    sign = "+" if row.warmer_k > 0 else ""
    return f"{said}: {sign}{unit.said(row.warmer_k)}"


def _process(row: OwnProcess) -> str:
    unit = units_of(row.studio).degrees
    facts = {
        "program": row.get_recipe_display(),
        "temperature": unit.said(row.process_c),
        "minutes": measured(row.hold_min, ""),
    }
    return _("%(program)s: %(temperature)s, held for %(minutes)s min") % facts


def _mould(row: Mould) -> str:
    size = sized(row.length_mm, row.width_mm, row.studio, is_round=row.round)
    return _("%(name)s, %(size)s") % {"name": row.name, "size": size}


def _holds(row: Mould) -> str:
    said = ngettext("%(number)s piece in a firing", "%(number)s pieces in a firing", row.capacity)
    return said % {"number": row.capacity}


LINES: Mapping[str, Lines] = {
    "staffed-hours": Lines(
        title=gettext_lazy("Staffed hours"),
        lead=gettext_lazy(
            "When somebody is there who may light, load or unload. Classes lie in these hours, and a kiln "
            "that is cool at night waits for the next of them. What is booked already keeps its hours."
        ),
        empty=gettext_lazy(
            "Nobody is ever there: nothing can be lit, loaded or unloaded, and no class booked."
        ),
        add=gettext_lazy("Add hours"),
        form=StaffedForm,
        model=StaffedHours,
        said=_hours,
        beside=_duties,
    ),
    "bench-hours": Lines(
        title=gettext_lazy("Open bench time"),
        lead=gettext_lazy(
            "When a torch may be reserved without a class, by whoever is signed off for it. What is reserved "
            "already stands."
        ),
        empty=gettext_lazy("There is none: torches are for classes only."),
        add=gettext_lazy("Add hours"),
        form=BenchForm,
        model=BenchHours,
        said=_hours,
    ),
    "closures": Lines(
        title=gettext_lazy("Closed days"),
        lead=gettext_lazy(
            "Whole days on which nobody is there; what cools goes on cooling. Nothing new is booked on them. "
            "Classes that are booked already stand, and are listed here until they are moved or called off."
        ),
        empty=gettext_lazy("No days are closed."),
        add=gettext_lazy("Close days"),
        form=ClosureForm,
        model=Closure,
        said=_days,
        beside=lambda row: row.reason,
    ),
    "terms": Lines(
        title=gettext_lazy("Terms"),
        lead=gettext_lazy(
            "The safety text is read once a term; without a term on a day, once in its calendar year. What "
            "somebody has read counts as long as it was said to."
        ),
        empty=gettext_lazy("There is no term: calendar years count."),
        add=gettext_lazy("Add a term"),
        form=TermForm,
        model=Term,
        said=_days,
        beside=lambda row: row.name,
    ),
    "seasons": Lines(
        title=gettext_lazy("Seasons of the rooms"),
        lead=gettext_lazy(
            "In a warm room everything cools more slowly. From its day of every year on a season is added to "
            "the room temperature of every record. Booked firings keep their hours."
        ),
        empty=gettext_lazy("The rooms are all year as the records say."),
        add=gettext_lazy("Add a season"),
        form=SeasonForm,
        model=Season,
        said=_season,
    ),
    "programs": Lines(
        title=gettext_lazy("Own programs"),
        lead=gettext_lazy(
            "The temperatures of a fuse, a slump or a casting as this studio fires them, in place of the "
            "book’s own (common practice, no source). Booked firings keep their programs."
        ),
        empty=gettext_lazy("All programs are the book’s own."),
        add=gettext_lazy("Add a program"),
        form=ProcessForm,
        model=OwnProcess,
        said=_process,
    ),
    "moulds": Lines(
        title=gettext_lazy("Moulds"),
        lead=gettext_lazy(
            "What pieces sink into, or are cast in. A firing takes as many pieces in moulds as there are "
            "moulds for. Kiln wash is brushed on wet; its dust harms the lungs when it is dry: a respirator, "
            "as its maker says. Local codes and licensed practice decide."
        ),
        empty=gettext_lazy("There are none: pieces are fired flat on the shelves."),
        add=gettext_lazy("Add moulds"),
        form=MouldForm,
        model=Mould,
        said=_mould,
        beside=_holds,
        action="set-up-equipment",
    ),
}
