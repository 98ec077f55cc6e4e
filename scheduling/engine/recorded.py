"""What is recorded of a firing follows one thing after another, as it can have happened."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scheduling.engine.actual import HEAT_OFF, Happened, What
from studios.said import marked

# Nobody lights a kiln so long before it was planned that it is still the same firing.
EARLIEST_MIN = 24 * 60
GOES_IN = frozenset({What.LIT, What.LAST_IN, What.SOAK_STARTED})
COMES_OUT = frozenset({What.OPENED, What.UNLOADED})


@dataclass(frozen=True, kw_only=True)
class Setting:
    """When a firing is lit or loaded, and when its last piece is in (a kiln: its program begins), by now."""

    begin: int
    last_in: int
    kiln: bool


@dataclass(frozen=True, kw_only=True)
class Misfit:
    """A record that cannot have happened after another one (or after a moment of the plan), and why."""

    event: Happened
    why: str
    since: int


def misfit(setting: Setting, events: Iterable[Happened]) -> Misfit | None:
    """The first record that does not fit those before it."""
    so_far: list[Happened] = []
    for event in sorted(events, key=lambda event: event.at):
        found = _too_early(setting, event, so_far) or _after(event, so_far)
        if found is not None:
            return Misfit(event=event, why=found[0], since=found[1])
        so_far.append(event)
    return None


Why = tuple[str, int]


def _too_early(setting: Setting, event: Happened, so_far: list[Happened]) -> Why | None:
    earliest = setting.begin - (EARLIEST_MIN if event.what is What.LIT else 0)
    if event.at < earliest and _last(so_far, {What.LIT}) is None:
        return marked("it is lit or loaded only from {since} on; record first when it was"), setting.begin
    if event.what in COMES_OUT and event.at <= setting.last_in:
        return marked("pieces go in until {since}; record first when the last one was in"), setting.last_in
    early_soak = event.what is What.SOAK_STARTED and setting.kiln and event.at <= setting.last_in
    if early_soak and _last(so_far, {What.LIT}) is None:
        return marked("its program begins at {since}; record first when it was lit"), setting.last_in
    return None


def _after(event: Happened, so_far: list[Happened]) -> Why | None:
    """What has happened already, and rules this out."""
    out, opened = _last(so_far, {What.UNLOADED}), _last(so_far, {What.OPENED})
    if out is not None:
        return marked("it was unloaded at {since}; strike that first if it is wrong"), out.at
    if opened is not None and event.what in GOES_IN | HEAT_OFF | {What.OPENED}:
        return marked("it was opened at {since}; strike that first if it is wrong"), opened.at
    soaked, heat = _last(so_far, {What.SOAK_STARTED}), _last(so_far, HEAT_OFF | {What.LIT, What.SOAK_STARTED})
    if event.what is What.LAST_IN and soaked is not None:
        return marked(
            "its soak began at {since}; if more was put in, record when the soak began again"
        ), soaked.at
    if event.what in HEAT_OFF and heat is not None and heat.what in HEAT_OFF:
        return marked("the heat is off since {since}; record first when it was lit or soaked again"), heat.at
    if event.what is What.LIT and heat is not None and heat.what not in HEAT_OFF:
        return marked("it is hot since {since}; strike that first if it is wrong"), heat.at
    return None


def _last(so_far: list[Happened], kinds: Iterable[What]) -> Happened | None:
    wanted = set(kinds)
    return next((event for event in reversed(so_far) if event.what in wanted), None)
