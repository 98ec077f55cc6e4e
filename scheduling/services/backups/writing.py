"""A backup: all tables as they stood at one moment, while others go on writing."""

from __future__ import annotations

import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from scheduling.errors import UnfitArchive
from scheduling.services.backups import archive as archives
from scheduling.services.backups.archive import Contents
from scheduling.services.backups.tables import kept, migrations


def back_up(path: Path) -> Contents:
    """Write the whole book into a new file. Raises UnfitArchive where a file stands there already.

    The file appears under its name when it is complete. Only its owner reads it: there are digests of
    passwords, secret links and addresses in it.
    """
    if path.exists():
        raise UnfitArchive(problem=f"{path} exists already; a backup is never written over.")
    try:
        handle, unfinished = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    except OSError as error:
        raise UnfitArchive(problem=f"{path} cannot be written: {error.strerror}.") from error
    try:
        with os.fdopen(handle, "wb") as file:
            contents = _written(file)
            file.flush()
            os.fsync(file.fileno())
        Path(unfinished).replace(path)
    finally:
        Path(unfinished).unlink(missing_ok=True)
    return contents


def _written(file: Any) -> Contents:
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive, one_moment():
        contents = Contents(
            made_at=timezone.now(),
            migrations=migrations(),
            tables={table.name: archives.write(archive, table) for table in kept()},
        )
        archives.seal(archive, contents)
    return contents


@contextmanager
def one_moment() -> Iterator[None]:
    """All that is read within is of one moment, and nobody who writes waits for it."""
    if connection.vendor != "sqlite":
        with transaction.atomic(durable=True), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
        return
    # Elsewhere a transaction on SQLite is one that writes, and alone from its beginning.
    connection.ensure_connection()
    database: Any = connection
    usual, database.transaction_mode = database.transaction_mode, "DEFERRED"
    try:
        with transaction.atomic(durable=True):
            yield
    finally:
        database.transaction_mode = usual
