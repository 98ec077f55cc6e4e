"""What would be otherwise than in a kiln job: the values as they were sent, read and checked."""

from __future__ import annotations

import datetime as dt
import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.dateparse import parse_datetime

from scheduling.engine.kiln_work.asked import Aim
from scheduling.errors import InvalidInput
from scheduling.models import KilnJob
from studios.said import said

MOST_MORE = 500


@dataclass(frozen=True, kw_only=True)
class Otherwise:
    """What a kiln job asks, with what is otherwise; kilns by their uid, studios by their slug.

    Without studios of its own it goes to those of the job.
    """

    aim: Aim
    arrives_at: dt.datetime
    due_at: dt.datetime | None
    thickness_mm: float
    more_pieces: int
    studios: Sequence[str]
    without_kilns: Sequence[uuid.UUID]


def otherwise(job: KilnJob, given: Mapping[str, Any]) -> Otherwise:
    """Raises InvalidInput that names what cannot be read."""
    return Otherwise(
        aim=_aim(given.get("aim") or job.aim),
        arrives_at=_moment("arrives_at", given.get("arrives_at") or job.arrives_at),
        due_at=_moment("due_at", given["due_at"]) if given.get("due_at") else job.due_at,
        thickness_mm=_number("thickness_mm", given.get("thickness_mm") or job.thickness_mm),
        more_pieces=_more(given.get("more_pieces") or 0),
        studios=[str(slug) for slug in _several("studios", given)],
        without_kilns=[_uid(each) for each in _several("without_kilns", given)],
    )


def _aim(given: object) -> Aim:
    try:
        return Aim(str(given))
    except ValueError:
        raise _unread("aim", said("Choose one of {known}.", known=", ".join(Aim))) from None


def _moment(field: str, given: object) -> dt.datetime:
    """A moment, or its text with its offset."""
    if isinstance(given, dt.datetime):
        return given
    try:
        read = parse_datetime(str(given))
    except ValueError:
        read = None
    if read is None or read.tzinfo is None:
        raise _unread(field, said("Write a date and a time with its offset, such as 2031-03-03T18:00+01:00."))
    return read


def _number(field: str, given: object) -> float:
    try:
        read = float(str(given))
    except ValueError:
        read = math.nan
    if not math.isfinite(read):
        raise _unread(field, said("Write a number."))
    return read


def _more(given: object) -> int:
    read = _number("more_pieces", given)
    if read != int(read) or not 0 <= read <= MOST_MORE:
        raise _unread("more_pieces", said("Write a whole number from 0 to {most}.", most=MOST_MORE))
    return int(read)


def _several(field: str, given: Mapping[str, Any]) -> Sequence[object]:
    read = given.get(field) or ()
    if not isinstance(read, (list, tuple)):
        raise _unread(field, said("Write a list."))
    return read


def _uid(given: object) -> uuid.UUID:
    try:
        return uuid.UUID(str(given))
    except ValueError:
        raise _unread("without_kilns", said("A kiln is named by its uid.")) from None


def _unread(field: str, problem: str) -> InvalidInput:
    return InvalidInput(field=field, problem=problem)
