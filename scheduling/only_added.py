"""The audit is only added to: the database refuses to change an entry, to delete one, or to empty the table.

PostgreSQL's TRUNCATE is refused too, though it fires no trigger by row: else one statement would take away
what many may not. SQLite would let INSERT OR REPLACE pass as an insert: an entry that stands is not written
over. Who empties or restores a whole database takes the triggers away first, in the transaction that puts
them back.
"""

from __future__ import annotations

from collections.abc import Iterator

from django.db import connection

TABLE = "scheduling_auditentry"
NAME = "lehrbook_audit_only_added"
# How PostgreSQL says that something must stay, so that it reaches us as an IntegrityError.
REFUSED = "restrict_violation"
EVENTS = {"insert": f"EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id)", "update": "1", "delete": "1"}  # noqa: S608
BY_ROW, WHOLE = f"{NAME}_by_row", f"{NAME}_whole"


def names() -> list[str]:
    """The triggers that there must be."""
    if connection.vendor == "sqlite":
        return [f"{NAME}_on_{event}" for event in EVENTS]
    return [BY_ROW, WHOLE]


def statements() -> Iterator[str]:
    """The statements that put them in place."""
    yield from removals()
    yield from _sqlite() if connection.vendor == "sqlite" else _postgresql()


def removals() -> list[str]:
    """The statements that take them away, for who empties the whole database."""
    table = "" if connection.vendor == "sqlite" else f" ON {TABLE}"
    return [f"DROP TRIGGER IF EXISTS {name}{table}" for name in names()]


def _sqlite() -> Iterator[str]:
    for name, (event, refused) in zip(names(), EVENTS.items(), strict=True):
        yield (
            f"CREATE TRIGGER {name} BEFORE {event.upper()} ON {TABLE} FOR EACH ROW WHEN {refused} "
            f"BEGIN SELECT RAISE(ABORT, '{NAME}'); END"
        )


def _postgresql() -> Iterator[str]:
    yield (
        f"CREATE OR REPLACE FUNCTION {NAME}() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{NAME}' USING ERRCODE = '{REFUSED}'; END $$"
    )
    for name, events, each in ((BY_ROW, "UPDATE OR DELETE", "ROW"), (WHOLE, "TRUNCATE", "STATEMENT")):
        yield f"CREATE TRIGGER {name} BEFORE {events} ON {TABLE} FOR EACH {each} EXECUTE FUNCTION {NAME}()"
