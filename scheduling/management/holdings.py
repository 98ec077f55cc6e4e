"""The table of what a class holds: each piece of equipment with its phases, hours and temperatures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from scheduling.engine.clock import floor_minutes
from scheduling.management.wording import day_time, table
from scheduling.models import Session
from scheduling.selectors.held import held_by_session, viewer_of
from scheduling.selectors.options import Option
from studios.models import Equipment, Person, Studio
from studios.thermal.units import f_from_c

HEADINGS = ("equipment", "phase", "from", "to", "temperature")


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """One phase of one piece of equipment, by minutes."""

    kind: str
    start: int
    end: int
    from_c: float | None
    to_c: float | None


@dataclass(frozen=True, kw_only=True)
class Line:
    """One piece of equipment and what it goes through."""

    name: str
    stretches: tuple[Stretch, ...]


def held_by(session: Session, reader: Person) -> list[str]:
    """What a session holds, by the studio's clock."""
    pieces = {piece.pk: piece for piece in session.studio.equipment.all()}
    lines = [
        Line(
            name=_name(pieces[held.equipment_id], held.place),
            stretches=tuple(
                Stretch(kind=one.kind, start=one.span[0], end=one.span[1], from_c=one.from_c, to_c=one.to_c)
                for one in held.phases
            ),
        )
        for held in held_by_session(session_id=session.pk, viewer=viewer_of(reader))
    ]
    return _as_table(lines, session.studio)


def would_be_held(option: Option) -> list[str]:
    """What a start would hold, by the studio's clock."""
    lines = [
        Line(
            name=_name(held.equipment, held.place),
            stretches=tuple(
                Stretch(
                    kind=one.kind,
                    start=floor_minutes(one.starts_at),
                    end=floor_minutes(one.ends_at),
                    from_c=one.from_c,
                    to_c=one.to_c,
                )
                for one in held.phases
            ),
        )
        for held in option.held
    ]
    return _as_table(lines, option.studio)


def _name(piece: Equipment, place: int) -> str:
    return f"{piece.name}, place {place}" if piece.places > 1 else piece.name


def _as_table(lines: Iterable[Line], studio: Studio) -> list[str]:
    """Pieces that do the same at the same time, such as the torches of a class, share their lines."""
    rows: list[Sequence[str]] = [HEADINGS]
    for stretches, alike in groupby(lines, key=lambda line: line.stretches):
        names = [line.name for line in alike]
        name = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]} ({len(names)})"
        for one in _joined(stretches):
            hours = (day_time(one.start, studio.zone), day_time(one.end, studio.zone))
            rows.append((name, one.kind, *hours, _degrees(one, studio)))
            name = ""
    return table(rows)


def _joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Pieces of one curve that follow one another in the same phase, as one."""
    joined: list[Stretch] = []
    for one in stretches:
        last = joined[-1] if joined else None
        if last and last.kind == one.kind and last.end == one.start:
            joined[-1] = replace(last, end=one.end, to_c=one.to_c)
        else:
            joined.append(one)
    return joined


def _degrees(one: Stretch, studio: Studio) -> str:
    if one.from_c is None or one.to_c is None:
        return ""
    fahrenheit = studio.temperature_unit == Studio.TemperatureUnit.FAHRENHEIT
    first, last = (round(f_from_c(c) if fahrenheit else c) for c in (one.from_c, one.to_c))
    return f"{first if first == last else f'{first} to {last}'} °{studio.temperature_unit}"
