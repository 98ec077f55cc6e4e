"""How the duties of a round are said and shown: in words, with the buttons that each of them has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from scheduling.models import ActualKind, RefillStatus
from scheduling.selectors.duties import Does, Duty
from scheduling.selectors.round import DayRound, Line
from scheduling.web.forms import PlainForm

SAID: Mapping[Does, Promise] = {
    Does.LIGHT: _("Light %(what)s"),
    Does.SWITCH_ON: _("Switch on %(what)s"),
    Does.LOAD: _("Load %(what)s"),
    Does.PURGE: _("Purge and check %(what)s"),
    Does.START_SOAK: _("Start the soak of %(what)s"),
    Does.UNLOAD: _("Unload %(what)s"),
    Does.TURN_UP: _("Turn up %(what)s for the charge"),
    Does.CHARGE: _("Charge %(what)s"),
    Does.TAKE_OUT: _("%(what)s goes out of use"),
    Does.REFILL: _("Refill or change over %(what)s"),
    Does.WASH_SHELVES: _("Wash the shelves: %(what)s"),
    Does.PREPARE_MOULDS: _("Prepare and wash the moulds: %(what)s"),
    Does.COLD_WORK: _("Cold work at %(what)s"),
}
# What is pressed where it is recorded in the same step.
PRESSED: Mapping[Does, Promise] = {
    Does.LIGHT: _("Lit now"),
    Does.SWITCH_ON: _("Switched on now"),
    Does.LOAD: _("Last piece in now"),
    Does.START_SOAK: _("Soak started now"),
    Does.UNLOAD: _("Opened now"),
    Does.REFILL: _("Full again now"),
}
# Where each piece is listed that goes in, or comes out.
LISTS: Mapping[Does, str] = {Does.LOAD: "loading-list", Does.UNLOAD: "unloading-list"}


# What can happen at something hot, as it is pressed; who unloads is led to the shelves.
HAPPENED: Mapping[str, Promise] = {
    ActualKind.LIT: _("Lit"),
    ActualKind.LAST_IN: _("Last piece in"),
    ActualKind.SOAK_STARTED: _("Soak started"),
    ActualKind.STOPPED_EARLY: _("Stopped early"),
    ActualKind.POWER_LOST: _("Power lost"),
    ActualKind.OPENED: _("Opened"),
}
RECORDED_AS: Mapping[str, Promise] = {
    **HAPPENED,
    ActualKind.TEMPERATURE: _("Temperature read"),
    ActualKind.UNLOADED: _("Unloaded"),
}


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A line as it stands on the page.

    `pressed`: what its button records; empty: it can only be ticked. `wrong`: a form of it that was refused.
    """

    line: Line
    anchor: str
    title: str
    pressed: Promise | str
    late: bool
    comes_next: bool
    wrong: PlainForm | None

    @property
    def unloads(self) -> bool:
        return self.line.duty.does == Does.UNLOAD

    @property
    def list_at(self) -> str:
        """The name of the list that goes with it: what is put in, or taken out."""
        if self.line.duty.face != "firing":
            return ""
        return LISTS.get(self.line.duty.does, "")

    @property
    def recorded_as(self) -> Promise | str:
        """What says that it is done."""
        record = self.line.record
        return RECORDED_AS[record.kind] if record is not None else ""


def title_of(duty: Duty) -> str:
    """What is done to what: Light hole 1."""
    return str(SAID[duty.does]) % {"what": duty.what}


def anchor_of(key: str) -> str:
    """Where on the page a duty stands."""
    return key.replace(":", "-")


def shown(
    found: DayRound, lines: Iterable[Line], wrong: Mapping[str, PlainForm], *, refills: bool
) -> Iterator[Shown]:
    """The lines in order; `refills`: the reader records deliveries."""
    passed = not found.is_today
    for line in lines:
        comes_next = not passed and line.duty.span[0] > found.now
        passed = passed or comes_next
        yield Shown(
            line=line,
            anchor=anchor_of(line.key),
            title=title_of(line.duty),
            pressed=_pressed(line, refills=refills),
            late=not line.done and line.duty.span[0] <= found.now,
            comes_next=comes_next,
            wrong=wrong.get(line.key),
        )


def _pressed(line: Line, *, refills: bool) -> Promise | str:
    if line.refill is not None:
        due = refills and line.refill.status == RefillStatus.PLANNED
        return PRESSED[Does.REFILL] if due else ""
    return PRESSED[line.duty.does] if line.records is not None else ""
