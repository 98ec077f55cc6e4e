"""What is asked or written again and again is put into SQL once; only the values differ from time to time.

Putting a query into SQL, and planning it, cost more than answering it. Where hundreds of people want a seat
in the same minute, that is most of the work. On PostgreSQL each connection plans such a query once.
"""

from __future__ import annotations

import copy
import datetime as dt
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from django.db import connection, models
from django.db.models import Field, Model, QuerySet
from django.db.models.sql import InsertQuery

M = TypeVar("M", bound=Model)
# A value of each type that no real one equals, and how it is written for a database.
UNLIKELY: Mapping[type, Callable[[int], Any]] = {
    int: lambda n: 8_999_999_999_999_990_000 + n,
    uuid.UUID: lambda n: uuid.UUID(int=(1 << 127) + n),
    dt.datetime: lambda n: dt.datetime(8999, 1, 1, 0, 0, n, tzinfo=dt.UTC),
    dt.date: lambda n: dt.date(8999, 2, 1 + n),
}
FIELDS: Mapping[type, Field[Any, Any]] = {
    int: models.BigIntegerField(),
    uuid.UUID: models.UUIDField(),
    dt.datetime: models.DateTimeField(),
    dt.date: models.DateField(),
}
SQL_TYPES = {int: "bigint", uuid.UUID: "uuid", dt.datetime: "timestamptz", dt.date: "date"}
# What each connection to PostgreSQL has planned; it forgets when it closes.
_planned: WeakKeyDictionary[Any, set[str]] = WeakKeyDictionary()
_numbers = count()


@dataclass(frozen=True, kw_only=True)
class _InSql:
    """A query as one kind of database takes it; `named` says which of its parameters is which value."""

    queryset: QuerySet[Any, Any]
    compiler: Any
    sql: str
    params: tuple[Any, ...]
    named: Mapping[int, str]

    def constants(self) -> list[Any]:
        """The parameters that no value takes the place of."""
        return [param for place, param in enumerate(self.params) if place not in self.named]


class Prepared:
    """A query of some named values, each an int, a UUID, a datetime or a date.

    `build` gets the values by name and gives the queryset; it must come to the same query whatever they are.
    A call with values gives that queryset, to be read and not to be narrowed further.
    """

    def __init__(self, build: Callable[..., QuerySet[Any, Any]], **types: type) -> None:
        self._build, self._types, self._name = build, types, f"lehrbook_{next(_numbers)}"
        self._in_sql: dict[str, _InSql] = {}

    def __call__(self, **values: Any) -> QuerySet[Any, Any]:
        """The query with these values."""
        known = self._in_sql.get(connection.vendor) or self._compile()
        written = {name: _written(self._types[name], value) for name, value in values.items()}
        if connection.vendor == "postgresql":
            return _asked(known, *self._planned(known, written))
        params = [
            written[known.named[place]] if place in known.named else param
            for place, param in enumerate(known.params)
        ]
        return _asked(known, known.sql, params)

    def _planned(self, known: _InSql, written: Mapping[str, Any]) -> tuple[str, list[Any]]:
        """The query as this connection has it planned, and the values that it takes, in their order."""
        connection.ensure_connection()
        planned = _planned.setdefault(connection.connection, set())
        if self._name not in planned:
            with connection.cursor() as cursor:
                cursor.execute(self._plan(known), known.constants())
            planned.add(self._name)
        places = ", ".join(["%s"] * len(self._types))
        return f"EXECUTE {self._name} ({places})", [written[one] for one in self._types]

    def _plan(self, known: _InSql) -> str:
        numbers = {one: f"${number}" for number, one in enumerate(self._types, 1)}
        first, *rest = known.sql.split("%s")
        parts = [
            f"{numbers[known.named[place]] if place in known.named else '%s'}{part}"
            for place, part in enumerate(rest)
        ]
        types = ", ".join(SQL_TYPES[kind] for kind in self._types.values())
        return f"PREPARE {self._name} ({types}) AS {first}{''.join(parts)}"

    def _compile(self) -> _InSql:
        unlikely = {name: UNLIKELY[kind](n) for n, (name, kind) in enumerate(self._types.items())}
        names = {_written(self._types[name], value): name for name, value in unlikely.items()}
        queryset = self._build(**unlikely)
        compiler = queryset.query.get_compiler(connection=connection)
        sql, params = compiler.as_sql()
        named = {place: names[param] for place, param in enumerate(params) if param in names}
        if set(named.values()) != set(names.values()):
            raise ValueError("The query does not use all of its values.")
        known = _InSql(queryset=queryset, compiler=compiler, sql=sql, params=tuple(params), named=named)
        self._in_sql[connection.vendor] = known
        return known


def _asked(known: _InSql, sql: str, params: Sequence[Any]) -> QuerySet[Any, Any]:
    """The queryset, with a compiler that has nothing left to do."""
    compiler = copy.copy(known.compiler)
    compiler.connection = connection
    compiler.as_sql = lambda *_args, **_facts: (sql, tuple(params))
    queryset = known.queryset.all()
    queryset.query.get_compiler = lambda *_args, **_facts: compiler  # type: ignore[method-assign]  # of this one
    return queryset


def _written(kind: type, value: Any) -> Any:
    return FIELDS[kind].get_db_prep_value(value, connection)


def added(row: M) -> M:
    """Insert a new row, as `save` does; for tables that nothing in this process listens to."""
    sql, values = _insertion(row)
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        (row.pk,) = cursor.fetchone()
    row._state.adding, row._state.db = False, connection.alias  # noqa: SLF001  (as `save` leaves it)
    return row


def added_together(*rows: Model) -> None:
    """Insert new rows that nobody here asks for again: PostgreSQL takes them all in one message."""
    written = [_insertion(row) for row in rows]
    together = connection.vendor == "postgresql"
    statements = [_one_after_another(written)] if together else written
    with connection.cursor() as cursor:
        for sql, values in statements:
            cursor.execute(sql, values)


def _one_after_another(written: Sequence[tuple[str, list[Any]]]) -> tuple[str, list[Any]]:
    return "; ".join(sql for sql, _ in written), [value for _, values in written for value in values]


def _insertion(row: Model) -> tuple[str, list[Any]]:
    sql, fields = _inserts.get((type(row), connection.vendor)) or _insert(row)
    return sql, [field.get_db_prep_save(field.pre_save(row, add=True), connection) for field in fields]


_inserts: dict[tuple[type[Model], str], tuple[str, tuple[Field[Any, Any], ...]]] = {}


def _insert(row: Model) -> tuple[str, tuple[Field[Any, Any], ...]]:
    meta = row._meta  # noqa: SLF001  (the documented way to a model's fields)
    fields = tuple(field for field in meta.local_concrete_fields if field is not meta.pk)
    query = InsertQuery(type(row))
    query.insert_values(fields, [row])
    compiler = query.get_compiler(connection=connection)
    compiler.returning_fields = [meta.pk]
    ((sql, _),) = compiler.as_sql()
    found = _inserts[(type(row), connection.vendor)] = (sql, fields)
    return found


def db_value(row: Model, name: str) -> Any:
    """The value of a field of a row, as the database takes it."""
    field: Any = row._meta.get_field(name)  # noqa: SLF001  (the documented way to a model's fields)
    return field.get_db_prep_save(getattr(row, field.attname), connection)
