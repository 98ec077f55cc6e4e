"""The copy of a calendar that was written last, and whether it still stands: one query by secret link."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.db import connection

from scheduling.models import FeedCopy
from scheduling.revised import of_a_calendar

# As `scheduling.models.calendars.new_key` makes them.
KEY = re.compile(r"[A-Za-z0-9_-]{43}")
# Written out, because the ORM takes longer to put it together than the database to answer it.
FIND = (
    "SELECT link.id, link.last_used_on, copy.id, copy.digest, copy.changed_at, copy.good_until, "
    "copy.count, {present} FROM scheduling_feedkey AS link "
    "LEFT JOIN scheduling_feedcopy AS copy "
    "ON copy.feed_key_id = link.id AND copy.form = %s AND copy.base = %s "
    "WHERE link.key = %s AND link.revoked_at IS NULL"
)


@dataclass(frozen=True, kw_only=True)
class Copy:
    """What a reader has to know of a copy, to see whether it is the one it has."""

    id: int
    digest: str
    changed_at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class Found:
    """A link that stands, how often what it shows has changed by now, and its copy where that stands."""

    link_id: int
    last_used_on: dt.date | None
    count: int
    copy: Copy | None


def find_copy(*, key: str, form: str, base: str, now: dt.datetime) -> Found | None:
    """By the secret key alone. What cannot be one is not looked for."""
    if not KEY.fullmatch(key):
        return None
    with connection.cursor() as cursor:
        cursor.execute(_query(), [form, base, key])
        row = cursor.fetchone()
    return None if row is None else _found(row, now)


@cache
def _query() -> str:
    whose = {"person": "link.person_id", "studio": "link.studio_id", "equipment": "link.equipment_id"}
    return FIND.format(present=of_a_calendar(**whose))


def _found(row: tuple[Any, ...], now: dt.datetime) -> Found:
    link_id, last_used_on, copy_id, digest, changed_at, good_until, count, present = row
    stands = copy_id is not None and count == present and now < _aware(good_until)
    copy = Copy(id=copy_id, digest=digest, changed_at=_aware(changed_at)) if stands else None
    return Found(link_id=link_id, last_used_on=last_used_on, count=present, copy=copy)


def _aware(moment: dt.datetime) -> dt.datetime:
    """SQLite gives instants in UTC without saying so."""
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)


def whole_copy(copy_id: int) -> FeedCopy | None:
    """The copy with its bytes, as it is now; none where the link was withdrawn meanwhile."""
    return FeedCopy.objects.filter(pk=copy_id).first()
