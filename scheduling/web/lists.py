"""Lists of classes and seats as they are read: by month, by studio, and by whose clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

from django.db.models import QuerySet
from django.utils import dateformat

from scheduling.models import Session
from studios.models import Studio


class Dated(Protocol):
    """Something at a studio that begins at a time."""

    @property
    def studio(self) -> Studio: ...
    @property
    def starts_at(self) -> dt.datetime: ...


@dataclass(frozen=True, kw_only=True)
class Month:
    """What begins in one month, by the studio's clock."""

    name: str
    rows: Sequence[Dated]


@dataclass(frozen=True, kw_only=True)
class StudioClasses:
    """A studio's classes by month; `cut` where more follow than are shown, and `shown` says how many."""

    studio: Studio
    months: Sequence[Month]
    shown: int
    cut: bool


def by_month(rows: Iterable[Dated]) -> list[Month]:
    """Rows in order of date, under the names of their months."""
    months = groupby(
        rows, key=lambda row: dateformat.format(row.starts_at.astimezone(row.studio.zone), "F Y")
    )
    return [Month(name=name, rows=list(found)) for name, found in months]


def by_studio(sessions: QuerySet[Session], studios: Iterable[Studio], most: int) -> list[StudioClasses]:
    """Each studio's next classes, as many as `most`; a studio without any is left out."""
    found = []
    for studio in studios:
        rows = list(sessions.filter(studio=studio)[: most + 1])
        if rows:
            shown = rows[:most]
            found.append(
                StudioClasses(studio=studio, months=by_month(shown), shown=len(shown), cut=len(rows) > most)
            )
    return found


def zones_of(studios: Iterable[Studio]) -> list[tuple[str, list[str]]]:
    """Time zones with the names of the studios that keep them, each zone once."""
    zones: dict[str, list[str]] = {}
    for studio in studios:
        zones.setdefault(studio.time_zone, []).append(studio.name)
    return list(zones.items())
