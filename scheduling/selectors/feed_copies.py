"""The copy of a calendar that was written last, and whether it still stands: one query by secret link."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from django.db import connection

from scheduling.models import FeedCopy
from scheduling.revised import Revised

# As `scheduling.models.calendars.new_key` makes them.
KEY = re.compile(r"[A-Za-z0-9_-]{43}")
# How often the set-up has changed counts above all else, so that no sum comes out twice when equipment moves
# to another studio and takes its count along.
SET_UP_WEIGHS = 2**32
_ONE = "COALESCE((SELECT number FROM scheduling_revision WHERE kind = '{kind}' AND key = {key}), 0)"
_SUM = (
    "COALESCE((SELECT SUM(counted.number) FROM studios_equipment AS one "  # noqa: S608
    f"JOIN scheduling_revision AS counted ON counted.key = one.id AND counted.kind = '{Revised.EQUIPMENT}' "
    "WHERE one.studio_id = link.studio_id), 0)"
)
_PRESENT = " + ".join(
    (
        f"{SET_UP_WEIGHS} * {_ONE.format(kind=Revised.SET_UP, key=0)}",
        _ONE.format(kind=Revised.NAMES, key=0),
        _ONE.format(kind=Revised.CALENDAR, key="link.person_id"),
        _ONE.format(kind=Revised.EQUIPMENT, key="link.equipment_id"),
        _SUM,
    )
)
# Written out, because the ORM takes longer to put it together than the database to answer it. Every name in
# it is ours.
FIND = (
    "SELECT link.id, link.last_used_on, copy.id, copy.digest, copy.changed_at, copy.good_until, "  # noqa: S608
    f"copy.count, CAST({_PRESENT} AS bigint) FROM scheduling_feedkey AS link "
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
        cursor.execute(FIND, [form, base, key])
        row = cursor.fetchone()
    return None if row is None else _found(row, now)


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
