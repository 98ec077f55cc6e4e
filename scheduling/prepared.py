"""What is asked or written again and again is put into SQL once; only the values differ from time to time.

Putting a query into SQL, and planning it, cost more than answering it. Where hundreds of people want a seat
in the same minute, that is most of the work. On PostgreSQL each connection plans such a query once.
"""

from __future__ import annotations

import copy
import datetime as dt
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from django.db import DEFAULT_DB_ALIAS, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Expression, Field, Func, Model, QuerySet, Value
from django.db.models.sql import InsertQuery

M = TypeVar("M", bound=Model)
# SQL, and the values in it.
Statement = tuple[str, list[Any]]
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
    converters: Mapping[int, Any]

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
        connection = _here()
        known = self._in_sql.get(connection.vendor) or self._compile()
        written = {name: _written(self._types[name], value, connection) for name, value in values.items()}
        if connection.vendor == "postgresql":
            return _asked(known, *self._planned(known, written))
        params = [
            written[known.named[place]] if place in known.named else param
            for place, param in enumerate(known.params)
        ]
        return _asked(known, known.sql, params)

    def _planned(self, known: _InSql, written: Mapping[str, Any]) -> tuple[str, list[Any]]:
        """The query as this connection has it planned, and the values that it takes, in their order."""
        _plan_once(_here(), self._name, lambda: (self._plan(known), known.constants()))
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
        connection = _here()
        unlikely = {name: UNLIKELY[kind](n) for n, (name, kind) in enumerate(self._types.items())}
        names = {_written(self._types[name], one, connection): name for name, one in unlikely.items()}
        queryset = self._build(**unlikely)
        compiler = queryset.query.get_compiler(connection=connection)
        sql, params = compiler.as_sql()
        named = {place: names[param] for place, param in enumerate(params) if param in names}
        if set(named.values()) != set(names.values()):
            raise ValueError("The query does not use all of its values.")
        known = _InSql(
            queryset=queryset,
            compiler=compiler,
            sql=sql,
            params=tuple(params),
            named=named,
            converters=compiler.get_converters([expression for expression, *_ in compiler.select]),
        )
        self._in_sql[connection.vendor] = known
        return known


def _plan_once(connection: BaseDatabaseWrapper, name: str, plan: Callable[[], Statement]) -> None:
    """Have a connection to PostgreSQL plan a statement, unless it has that name planned already."""
    connection.ensure_connection()
    planned = _planned.setdefault(connection.connection, set())
    if name not in planned:
        with connection.cursor() as cursor:
            cursor.execute(*plan())
        planned.add(name)


def _asked(known: _InSql, sql: str, params: Sequence[Any]) -> QuerySet[Any, Any]:
    """The queryset, with a compiler that has nothing left to do."""
    compiler = copy.copy(known.compiler)
    compiler.connection = _here()
    compiler.get_converters = lambda *_args: known.converters
    compiler.as_sql = lambda *_args, **_facts: (sql, tuple(params))
    queryset = known.queryset.all()
    queryset.query.get_compiler = lambda *_args, **_facts: compiler  # type: ignore[method-assign]  # of this one
    return queryset


def asked_together(*queries: QuerySet[Any, Any]) -> list[list[tuple[Any, ...]]]:
    """The rows of several prepared queries of values, asked one after another.

    PostgreSQL takes them in one message; each sees what was written before its own turn came, so that one
    which follows a lock sees what whoever held it before has written.
    """
    connection = _here()
    if connection.vendor != "postgresql":
        return [list(query) for query in queries]
    compilers = [query.query.get_compiler() for query in queries]
    sql, values = _one_after_another([compiler.as_sql() for compiler in compilers])
    found = []
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        for compiler in compilers:
            found.append(list(compiler.results_iter(results=[cursor.fetchall()], tuple_expected=True)))
            cursor.nextset()
    return found


def _written(kind: type, value: Any, connection: BaseDatabaseWrapper) -> Any:
    return FIELDS[kind].get_db_prep_value(value, connection)


def _here() -> BaseDatabaseWrapper:
    """This thread's connection itself: its stand-in, `django.db.connection`, looks it up for every word."""
    return connections[DEFAULT_DB_ALIAS]


def added(row: M) -> M:
    """Insert a new row, as `save` does; for tables that nothing in this process listens to."""
    added_together(row)
    return row


def added_unhurried(row: M) -> M:
    """As `added`; a transaction of its own waits for no disk.

    Should the database break down in the next moment, the row may be lost, but only with all that was to be
    written after it: whatever is on the disk has there what was written before it.
    """
    connection = _here()
    if connection.vendor != "postgresql" or connection.in_atomic_block:
        return added(row)
    sql, values = _insertion(row, connection)
    with connection.cursor() as cursor:
        cursor.execute(f"SET LOCAL synchronous_commit = off; {sql}", values)
        cursor.nextset()
        (row.pk,) = cursor.fetchone()
    return _stored(row)


def _stored(row: M) -> M:
    row._state.adding, row._state.db = False, DEFAULT_DB_ALIAS  # noqa: SLF001  (as `save` leaves it)
    return row


def added_together(*rows: Model, then: Sequence[Statement] = ()) -> int:
    """Insert new rows, in this order, and `then` do what else is said.

    PostgreSQL takes all of it in one message, and others one by one. A row that another of them refers to
    needs a key before (`key_ahead`), or is added before by itself. Gives how many rows the last one changed.
    """
    connection = _here()
    inserts = [_insertion(row, connection) for row in rows]
    with connection.cursor() as cursor:
        results = _results(cursor, [*inserts, *then])
        for row, _ in zip(rows, results, strict=False):
            (row.pk,) = cursor.fetchone()
            _stored(row)
        for _ in results:
            pass
        return int(cursor.rowcount)


def _results(cursor: Any, statements: Sequence[Statement]) -> Iterator[None]:
    """The cursor stands at the result of each statement in its turn."""
    if _here().vendor != "postgresql":
        for statement in statements:
            cursor.execute(*statement)
            yield
        return
    cursor.execute(*_one_after_another(statements))
    for number in range(len(statements)):
        if number:
            cursor.nextset()
        yield


def key_ahead(model: type[Model]) -> Expression:
    """In a query: the key of a row that will be added; nothing where the database gives keys only to rows."""
    if _here().vendor != "postgresql":
        return Value(None, output_field=models.BigIntegerField())
    table = Value(model._meta.db_table)  # noqa: SLF001  (the documented way to a model's table)
    sequence = Func(table, Value("id"), function="pg_get_serial_sequence")
    return Func(sequence, function="nextval", output_field=models.BigIntegerField())


def _one_after_another(written: Sequence[Statement]) -> Statement:
    return "; ".join(sql for sql, _ in written), [value for _, values in written for value in values]


def _insertion(row: Model, connection: BaseDatabaseWrapper) -> Statement:
    kind = type(row), connection.vendor, row.pk is None
    insert = _inserts.get(kind) or _inserts.setdefault(kind, _insert(row, connection))
    values = [field.get_db_prep_save(field.pre_save(row, add=True), connection) for field in insert.fields]
    return (insert.planned(connection) if connection.vendor == "postgresql" else insert.sql), values


@dataclass(frozen=True, kw_only=True)
class _Insert:
    """How a row of one kind is inserted."""

    name: str
    sql: str
    fields: tuple[Field[Any, Any], ...]

    def planned(self, connection: BaseDatabaseWrapper) -> str:
        """The insertion as this connection has it planned."""
        _plan_once(connection, self.name, lambda: (self._plan(), []))
        return f"EXECUTE {self.name} ({', '.join(['%s'] * len(self.fields))})"

    def _plan(self) -> str:
        numbers = tuple(f"${number}" for number in range(1, len(self.fields) + 1))
        return f"PREPARE {self.name} AS {self.sql % numbers}"


_inserts: dict[tuple[type[Model], str, bool], _Insert] = {}


def _insert(row: Model, connection: BaseDatabaseWrapper) -> _Insert:
    meta, keyless = row._meta, row.pk is None  # noqa: SLF001  (the documented way to a model's fields)
    fields = tuple(field for field in meta.local_concrete_fields if not (keyless and field is meta.pk))
    query = InsertQuery(type(row))
    query.insert_values(fields, [row])
    compiler = query.get_compiler(connection=connection)
    compiler.returning_fields = [meta.pk]
    ((sql, _),) = compiler.as_sql()
    return _Insert(name=f"lehrbook_{next(_numbers)}", sql=sql, fields=fields)


def db_value(row: Model, name: str) -> Any:
    """The value of a field of a row, as the database takes it."""
    field: Any = row._meta.get_field(name)  # noqa: SLF001  (the documented way to a model's fields)
    return field.get_db_prep_save(getattr(row, field.attname), _here())
