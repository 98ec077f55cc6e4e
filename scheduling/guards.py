"""The database is the last word: it refuses by itself that two claims overlap, and counts what is written.

Exclusive spans of one place of one piece of equipment, and the spans of one person, never overlap. PostgreSQL
holds this as exclusion constraints, SQLite as triggers. SQLite loses triggers when a table is rebuilt by a
migration, so both are put in place after every migration, and nothing serves without them. The triggers that
count (`scheduling.revised`), and those that keep the audit as it is (`scheduling.only_added`), stand and fall
with them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.db import connection
from django.db.models.signals import post_migrate, pre_migrate

from scheduling import only_added, revised


@dataclass(frozen=True, kw_only=True)
class Guard:
    """One table in which rows with the same keys must not overlap in time."""

    name: str
    table: str
    keys: tuple[str, ...]
    starts: str
    ends: str


GUARDS = (
    Guard(
        name="lehrbook_equipment_once",
        table="scheduling_occupancy",
        keys=("equipment_id", "place"),
        starts="exclusive_from",
        ends="exclusive_to",
    ),
    Guard(
        name="lehrbook_person_once",
        table="scheduling_personspan",
        keys=("person_id",),
        starts="starts_at",
        ends="ends_at",
    ),
)


def connect() -> None:
    """Put the guards in place after every migration, and out of its way before it."""
    pre_migrate.connect(step_aside, dispatch_uid="lehrbook-guards-aside")
    post_migrate.connect(install, dispatch_uid="lehrbook-guards")


def step_aside(*_args: Any, plan: Sequence[Any] = (), **_facts: Any) -> None:
    """SQLite rebuilds a table to change it, and no trigger may speak of that table meanwhile.

    Where there is nothing to migrate they stay: others may be writing.
    """
    if not plan or connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND name GLOB 'lehrbook_*'")
        for (name,) in cursor.fetchall():
            cursor.execute(f"DROP TRIGGER {name}")


def install(*_args: Any, **_facts: Any) -> None:
    """Put every guard in place whose table exists; those that stand stay."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for statement in _statements(guard for guard in GUARDS if guard.table in tables):
            cursor.execute(statement)
        for statement in revised.functions() if "scheduling_revision" in tables else ():
            cursor.execute(statement)
        for counted in revised.COUNTED if "scheduling_revision" in tables else ():
            for statement in revised.statements(counted) if counted.table in tables else ():
                cursor.execute(statement)
        for statement in only_added.statements() if only_added.TABLE in tables else ():
            cursor.execute(statement)


def missing() -> list[str]:
    """The guards and other triggers that the database lacks."""
    wanted = {name for guard in GUARDS for name in _names(guard)}
    wanted |= {*revised.names(), *only_added.names()}
    query = (  # every name in it is ours
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT conname FROM pg_constraint WHERE contype = 'x' "  # noqa: S608
        "UNION SELECT tgname FROM pg_trigger WHERE NOT tgisinternal "
        f"UNION SELECT proname FROM pg_proc WHERE proname = '{revised.FUNCTION}'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        return sorted(wanted - {row[0] for row in cursor.fetchall()})


def take_away_for_emptying() -> None:
    """Let the whole database be emptied, in a transaction whose last step is `install`."""
    with connection.cursor() as cursor:
        for statement in [*revised.removals(), *only_added.removals()]:
            cursor.execute(statement)


def require() -> None:
    """Refuse to serve from a database that would let two claims overlap, or its audit be changed."""
    if lacking := missing():
        raise ImproperlyConfigured(
            f"The database lacks its guards against overlaps, what counts its changes, or what keeps its "
            f"audit ({', '.join(lacking)}): run manage.py migrate."
        )


def _names(guard: Guard) -> tuple[str, ...]:
    if connection.vendor == "sqlite":
        return f"{guard.name}_on_insert", f"{guard.name}_on_update"
    return (guard.name,)


def _statements(guards: Iterator[Guard]) -> Iterator[str]:
    lacking = set(missing())
    for guard in guards:
        if lacking.isdisjoint(_names(guard)):
            continue
        yield from _triggers(guard) if connection.vendor == "sqlite" else (_exclusion(guard),)


def _exclusion(guard: Guard) -> str:
    # A range of one number makes an integer key fit for GiST without an extension.
    keys = ", ".join(f"int8range({key}, {key}, '[]') WITH &&" for key in guard.keys)
    span = f"tstzrange({guard.starts}, {guard.ends})"
    return (
        f"ALTER TABLE {guard.table} ADD CONSTRAINT {guard.name} EXCLUDE USING gist ({keys}, {span} WITH &&)"
    )


def _triggers(guard: Guard) -> Iterator[str]:
    same = " AND ".join(f"other.{key} = NEW.{key}" for key in guard.keys)
    overlap = f"other.{guard.starts} < NEW.{guard.ends} AND other.{guard.ends} > NEW.{guard.starts}"
    for event, name in zip(("INSERT", "UPDATE"), _names(guard), strict=True):
        other = "" if event == "INSERT" else " AND other.id <> NEW.id"
        yield f"DROP TRIGGER IF EXISTS {name}"
        # Every name comes from GUARDS above, none from outside.
        found = f"SELECT 1 FROM {guard.table} AS other WHERE {same} AND {overlap}{other}"  # noqa: S608
        yield (
            f"CREATE TRIGGER {name} BEFORE {event} ON {guard.table} FOR EACH ROW WHEN EXISTS ({found}) "
            f"BEGIN SELECT RAISE(ABORT, '{guard.name}'); END"
        )
