"""Which tables a backup holds, and how their values are written so that either database takes them."""

from __future__ import annotations

import datetime as dt
import json
from base64 import b64encode
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.contrib.sessions.models import Session as SignIn
from django.db import connection, models
from django.db.migrations.recorder import MigrationRecorder

from scheduling.models import FeedCopy, Lease, Revision

# Sign-ins end with a restore: one that was ended since must not come to life again. Leases belong to the
# processes that run, and not to the book; what calendars looked like last is written again when asked for.
NOT_KEPT: tuple[type[models.Model], ...] = (SignIn, Lease, FeedCopy)
OURS = ("studios", "scheduling")
ROWS_AT_ONCE = 2000


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table of the database."""

    model: type[models.Model]

    @property
    def meta(self) -> Any:
        return self.model._meta  # noqa: SLF001 - documented by Django, in spite of its name

    @property
    def rows(self) -> models.QuerySet[Any]:
        """All of its rows, whatever its own manager leaves out."""
        return self.model._base_manager.all()  # noqa: SLF001 - as above

    @property
    def name(self) -> str:
        return str(self.meta.db_table)

    @property
    def fields(self) -> list[models.Field[Any, Any]]:
        return list(self.meta.concrete_fields)

    @property
    def columns(self) -> list[str]:
        return [str(field.column) for field in self.fields]

    def lines(self) -> Iterator[bytes]:
        """Every row as a line of JSON, in the order of the keys."""
        names = [field.attname for field in self.fields]
        rows = self.rows.order_by("pk").values_list(*names)
        for row in rows.iterator(chunk_size=ROWS_AT_ONCE):
            yield _line(row)

    def values(self, line: bytes) -> list[Any]:
        """The values of a line as this database takes them."""
        found = zip(self.fields, json.loads(line), strict=True)
        return [field.get_db_prep_save(_as_python(field, value), connection) for field, value in found]

    @property
    def insertion(self) -> str:
        """The statement that enters a row; names come from the models, none from outside."""
        quote = connection.ops.quote_name
        columns = ", ".join(quote(column) for column in self.columns)
        places = ", ".join("%s" for _ in self.columns)
        return f"INSERT INTO {quote(self.name)} ({columns}) VALUES ({places})"  # noqa: S608 - see above


def kept() -> list[Table]:
    """The tables of a backup, by name."""
    return [table for table in _all() if table.model not in NOT_KEPT]


def emptied() -> list[Table]:
    """The tables that a restore empties."""
    return [table for table in _all() if table.model is not Lease]


def booked() -> list[Table]:
    """The tables that are empty where nobody has entered anything yet."""
    return [table for table in kept() if table.meta.app_label in OURS and table.model is not Revision]


def migrations() -> list[str]:
    """The migrations that have been applied, by which two databases have the same tables."""
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def _all() -> list[Table]:
    found = (Table(model=model) for model in apps.get_models(include_auto_created=True))
    own = (table for table in found if table.meta.managed and not table.meta.proxy)
    return sorted(own, key=lambda table: table.name)


def _line(row: Iterable[Any]) -> bytes:
    return json.dumps(list(row), ensure_ascii=False, separators=(",", ":"), default=_plain).encode() + b"\n"


def _plain(value: object) -> str:
    """What JSON has no form for, as text that its field reads again."""
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, UUID | Decimal):
        return str(value)
    if isinstance(value, bytes | memoryview):
        return b64encode(value).decode()
    raise TypeError(f"A backup has no form for {type(value).__name__}.")


def _as_python(field: models.Field[Any, Any], value: Any) -> Any:
    return value if isinstance(field, models.JSONField) else field.to_python(value)
