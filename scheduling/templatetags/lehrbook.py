"""How the pages write times and temperatures: the studio's clock, and the studio's unit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from zoneinfo import ZoneInfo

from django import template
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from scheduling import reader
from scheduling.engine.clock import moment
from scheduling.engine.records import PhaseSpan
from scheduling.models import Seat
from scheduling.selectors.audit import READS
from scheduling.selectors.options import PhaseLine
from scheduling.selectors.other_calendars import may_keep
from scheduling.selectors.seats import given_back_until
from scheduling.wording import amount, long, measured, now_said, temperature_unit
from studios.models import Person, Studio
from studios.said import Form, marked, moment_said
from studios.selectors import allowed_anywhere, may
from studios.thermal.units import f_from_c, f_per_h_from_c_per_h, keyed_rate

register = template.Library()


def _local(when: dt.datetime | int, zone: ZoneInfo) -> dt.datetime:
    return (moment(when) if isinstance(when, int) else when).astimezone(zone)


@register.filter
def when(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """A moment as a person writes it: Tue 9 Mar, 21:00."""
    local = _local(value, zone)
    return now_said(moment_said(local, Form.SHORT))


@register.filter
def year(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """The year of a moment that may lie far back: 2027."""
    return f"{_local(value, zone):%Y}"


@register.filter
def clock(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """The time of day only: 21:00."""
    return f"{_local(value, zone):%H:%M}"


@register.filter
def clock_zone(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """The time of day with its zone named: 21:00 CST."""
    return now_said(moment_said(_local(value, zone), Form.CLOCK_ZONE))


@register.filter
def weekday(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """A day by name: Tuesday 9 March 2027."""
    local = _local(value, zone)
    return now_said(moment_said(local, Form.WEEKDAY))


@register.filter
def short_day(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """A day in short: Tue 9 Mar."""
    local = _local(value, zone)
    return now_said(moment_said(local, Form.NAMED))


@register.filter
def weekday_iso(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """The local day as it stands in an address: 2027-03-09."""
    return f"{_local(value, zone):%Y-%m-%d}"


@register.filter
def machine(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """A moment for the `datetime` attribute of a time element."""
    return _local(value, zone).isoformat(timespec="minutes")


@register.filter
def degrees(celsius: float | None, unit: str | Studio = "C") -> str:
    """A temperature to the degree, in the unit asked for, or as the reader reads that studio's."""
    if celsius is None:
        return ""
    return f"{f_from_c(celsius):.0f} °F" if _letter(unit) == "F" else f"{celsius:.0f} °C"


def _letter(unit: str | Studio) -> str:
    return temperature_unit(unit) if isinstance(unit, Studio) else unit


@register.filter
def unit_of(studio: Studio) -> str:
    """C or F: in what its reader reads a studio's temperatures."""
    return temperature_unit(studio)


@register.filter
def rate(celsius_per_h: float | None, unit: str | Studio = "C") -> str:
    """A ramp as it is keyed in, never faster than permitted; without one, the equipment's own."""
    if celsius_per_h is None:
        return gettext("as fast as it goes")
    letter = _letter(unit)
    shown = f_per_h_from_c_per_h(celsius_per_h) if letter == "F" else celsius_per_h
    return measured(keyed_rate(shown), f"°{letter}/h")


@register.filter
def said_again(kept: str) -> str:
    """A sentence that was kept in English, in the reader's language."""
    return reader.said_again(kept)


@register.filter
def hours(minutes: float) -> str:
    """A length of time: 45 min, 3 h, 2 h 30 min."""
    return long(round(minutes))


@register.filter
def elapsed(minutes: float) -> str:
    """A moment of a log, in hours and minutes from its first reading: 12:48."""
    in_hours, rest = divmod(round(minutes), 60)
    return f"{in_hours}:{rest:02d}"


# Names that are stored, as they are read.
STORED = (
    *(marked("reserve"), marked("give back"), marked("book"), marked("move"), marked("call off")),
    *(marked("confirm address"), marked("choose password"), marked("sign out everywhere")),
    *(marked("withdraw token"), marked("rename"), marked("choose language"), marked("join")),
    *(
        marked("join line"),
        marked("leave line"),
        marked("vouch"),
        marked("vouch taken back"),
        marked("offer"),
    ),
    *(marked("lapse"), marked("shelve"), marked("keep"), marked("keep longer"), marked("let go")),
    *(marked("record"), marked("strike"), marked("refill"), marked("plan refill"), marked("strike refill")),
    *(marked("enter outage"), marked("end outage"), marked("withdraw outage"), marked("acknowledge")),
    *(marked("flag"), marked("close line"), marked("make link"), marked("withdraw link"), marked("charge")),
    *(marked("measure pot"), marked("call off charge"), marked("lose seat"), marked("confirm role")),
    *(marked("give role"), marked("end role"), marked("fit log"), marked("accept fit"), marked("set up")),
    *(marked("add calendar"), marked("remove calendar"), marked("read calendar"), marked("send again")),
    *(marked("mark paid"), marked("unmark paid"), marked("hand out"), marked("hand back"), marked("tick")),
    *(marked("ask"), marked("change"), marked("arrive"), marked("plan anew"), marked("step done")),
    *(marked("step not done"), marked("list pieces"), marked("put"), marked("damage"), marked("lost")),
    *(marked("found"), marked("hand over"), marked("not handed over"), marked("not collected")),
    *(marked("add to firing"), marked("offer space"), marked("withdraw space")),
    *(marked("own work"), marked("open bench time"), marked("untick"), marked("page"), marked("command")),
)


register.filter(measured)


@register.filter
def words(value: str) -> str:
    """A stored name as it is read: glory-hole becomes glory hole."""
    return gettext(str(value).replace("-", " ")) if value else ""


@dataclass(frozen=True, kw_only=True)
class Stage:
    """Phases of one kind that follow one another without a break, as they are read."""

    kind: str
    starts: dt.datetime | int
    ends: dt.datetime | int
    from_c: float | None
    to_c: float | None


@register.filter
def joined(phases: Iterable[PhaseSpan | PhaseLine]) -> list[Stage]:
    """Adjacent phases of one kind as one: working before, in and after a class is read as working."""
    stages: list[Stage] = []
    for phase in phases:
        stage = _stage(phase)
        last = stages[-1] if stages else None
        if last and (last.kind, last.ends, last.to_c) == (stage.kind, stage.starts, stage.from_c):
            stages[-1] = replace(last, ends=stage.ends, to_c=stage.to_c)
        else:
            stages.append(stage)
    return stages


def _stage(phase: PhaseSpan | PhaseLine) -> Stage:
    starts, ends = phase.span if isinstance(phase, PhaseSpan) else (phase.starts_at, phase.ends_at)
    return Stage(kind=str(phase.kind), starts=starts, ends=ends, from_c=phase.from_c, to_c=phase.to_c)


@register.simple_tag
def may_book(person: Person) -> bool:
    """Whether somebody books classes anywhere, so that the way there is shown."""
    return allowed_anywhere(person, "book")


@register.simple_tag
def reads_audit(person: Person, studio: Studio | None = None) -> bool:
    """Whether somebody reads the audit of a studio, or of any, so that the way there is shown."""
    return allowed_anywhere(person, READS) if studio is None else may(person, READS, studio)


@register.simple_tag
def keeps_other_calendars(person: Person) -> bool:
    """Whether somebody has other calendars read here, so that the way there is shown."""
    return may_keep(person) or person.other_calendars.exists()


GOVERNED = {
    "kept stress": _("the stress that the glass may keep"),
    "passing stress": _("the stress that the glass bears in passing"),
    "studio ceiling": _("the studio's ceiling for this thickness"),
    "equipment": _("the equipment: it goes no faster"),
    "studio floor": _("the studio's shortest soak"),
    "relaxation": _("the time that stress needs to relax"),
    "recipe": _("the program"),
    "last piece": _("the last piece"),
    "second stage": _("the second stage: glass still settles just below its strain point"),
    "working hours": _("the hours in which pieces come"),
}


@register.filter
def governed(rule: str) -> str:
    """What governed a segment, said in full."""
    return str(GOVERNED.get(rule, rule))


@register.filter
def amount_at(price: Decimal, studio: Studio) -> str:
    """A price in the studio's currency: 95.00 EUR."""
    return amount(price, studio)


@register.filter
def give_back_until(seat: Seat) -> dt.datetime:
    """Until when its person gives a seat back."""
    return given_back_until(seat)
