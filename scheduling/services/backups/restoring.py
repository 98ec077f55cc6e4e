"""A restore: everything of a backup, and nothing besides it, in one transaction.

Processes that serve wait for it, and then read anew what they have kept (`scheduling.kept`): every count
of what was written is raised above what it was here and in the file.
"""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.core.management.color import no_style
from django.db import DatabaseError, IntegrityError, connection
from django.db.backends.utils import CursorWrapper

from scheduling import guards, kept
from scheduling.errors import UnfitArchive
from scheduling.models import Revision
from scheduling.services.backups import archive as archives
from scheduling.services.backups import tables
from scheduling.services.backups.archive import Contents
from scheduling.services.backups.tables import Table
from scheduling.services.transactions import one_write

Counts = dict[tuple[str, int], int]
REVISION = Table(model=Revision)


def restore(path: Path, *, replace: bool = False) -> Contents:
    """Put a backup in place. Raises UnfitArchive; then nothing is changed.

    It must be whole, of the same migrations, and the database must be empty, unless `replace` says that
    what stands in it may go.
    """
    with archives.opened(path) as (archive, contents):
        _require_same_migrations(contents)
        archives.require_whole(archive, contents)
        _require_same_columns(contents)
        _put_in_place(archive, replace=replace)
        ContentType.objects.clear_cache()
        kept.forget()
        return contents


@one_write
def _put_in_place(archive: zipfile.ZipFile, *, replace: bool) -> None:
    with connection.cursor() as cursor:
        _lock(cursor)
        if not replace and any(table.rows.exists() for table in tables.booked()):
            raise UnfitArchive(problem="This database is not empty. Say --replace if all in it may go.")
        counts = {(row.kind, row.key): row.number for row in Revision.objects.all()}
        guards.take_away_for_emptying()
        names = [table.name for table in tables.emptied()]
        _execute(cursor, connection.ops.sql_flush(no_style(), names))
        for table in tables.kept():
            if table != REVISION:
                _fill(cursor, table, archive)
        _raise_counts(counts, archive)
        models = [table.model for table in tables.kept()]
        _execute(cursor, connection.ops.sequence_reset_sql(no_style(), models))
    _require_sound()
    guards.install()
    guards.require()


def _lock(cursor: CursorWrapper) -> None:
    """Nobody reads or writes meanwhile; on SQLite whoever writes is alone from the beginning."""
    if connection.vendor != "sqlite":
        names = ", ".join(connection.ops.quote_name(table.name) for table in tables.emptied())
        cursor.execute(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE")


def _execute(cursor: CursorWrapper, statements: Sequence[str]) -> None:
    for statement in statements:
        cursor.execute(statement)


def _fill(cursor: CursorWrapper, table: Table, archive: zipfile.ZipFile) -> None:
    """Enter the rows of a table. Raises UnfitArchive where this database does not take them."""
    waiting: list[Any] = []
    try:
        for line in archives.lines(archive, table.name):
            waiting.append(table.values(line))
            if len(waiting) == tables.ROWS_AT_ONCE:
                cursor.executemany(table.insertion, waiting)
                waiting.clear()
        if waiting:
            cursor.executemany(table.insertion, waiting)
    except DatabaseError as error:
        problem = f"{table.name} cannot be restored into this database: {' '.join(str(error).split())}"
        raise UnfitArchive(problem=problem) from error


def _require_sound() -> None:
    """Every row finds the rows it refers to. Raises UnfitArchive."""
    try:
        connection.check_constraints()
    except IntegrityError as error:
        problem = f"The backup contradicts itself: {' '.join(str(error).split())}"
        raise UnfitArchive(problem=problem) from error


def _raise_counts(before: Counts, archive: zipfile.ZipFile) -> None:
    """No count may ever stand where it stood while something else was in the book."""
    found = dict(before)
    for line in archives.lines(archive, REVISION.name):
        row = dict(zip(REVISION.columns, REVISION.values(line), strict=True))
        found[row["kind"], row["key"]] = max(row["number"], found.get((row["kind"], row["key"]), 0))
    Revision.objects.bulk_create(
        (Revision(kind=kind, key=key, number=number + 1) for (kind, key), number in sorted(found.items())),
        batch_size=tables.ROWS_AT_ONCE,
    )


def _require_same_migrations(contents: Contents) -> None:
    here, there = set(tables.migrations()), set(contents.migrations)
    if here == there:
        return
    differing = [f"{name} (only in the file)" for name in sorted(there - here)]
    differing += [f"{name} (only in the database)" for name in sorted(here - there)]
    raise UnfitArchive(
        problem="The backup was made by another version of Lehrbook; restore it with that one. "
        f"Migrations that differ: {', '.join(differing)}."
    )


def _require_same_columns(contents: Contents) -> None:
    here = {table.name: table.columns for table in tables.kept()}
    if here != {name: listed.columns for name, listed in contents.tables.items()}:
        raise UnfitArchive(
            problem="The backup has other tables or columns than this database; its version differs."
        )
