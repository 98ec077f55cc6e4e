"""The file: a ZIP with a list of rows for each table, and a manifest that says what must be in it.

    manifest.json             format, when, by which migrations; for each table its columns, rows and SHA-256
    tables/<name>.jsonl       one row a line, each a JSON list in the order of the columns

The digest of the manifest is the comment of the ZIP.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from scheduling.errors import UnfitArchive
from scheduling.services.backups.tables import Table

FORMAT = 1
MANIFEST = "manifest.json"
# Whatever the reader of ZIP files and of JSON raises on bytes that nobody wrote.
DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, KeyError, TypeError, ValueError, RuntimeError)


@dataclass(frozen=True, kw_only=True)
class Listed:
    """What the manifest says of one table."""

    columns: list[str]
    rows: int
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What the manifest says."""

    made_at: dt.datetime
    migrations: list[str]
    tables: Mapping[str, Listed] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """All rows of all tables."""
        return sum(table.rows for table in self.tables.values())


def write(archive: zipfile.ZipFile, table: Table) -> Listed:
    """Write one table."""
    digest, rows = hashlib.sha256(), 0
    with archive.open(_member(table.name), "w", force_zip64=True) as file:
        for line in table.lines():
            file.write(line)
            digest.update(line)
            rows += 1
    return Listed(columns=table.columns, rows=rows, sha256=digest.hexdigest())


def seal(archive: zipfile.ZipFile, contents: Contents) -> None:
    """Write the manifest; what is not sealed is not restored."""
    said = {
        "format": FORMAT,
        "made_at": contents.made_at.isoformat(),
        "migrations": contents.migrations,
        "tables": {name: vars(listed) for name, listed in contents.tables.items()},
    }
    text = json.dumps(said, indent=1).encode()
    archive.writestr(MANIFEST, text)
    archive.comment = hashlib.sha256(text).hexdigest().encode()


@contextmanager
def opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, Contents]]:
    """A file and what its manifest says. Raises UnfitArchive."""
    with _opened(path) as archive:
        yield archive, _contents(archive)


def _opened(path: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(path)
    except DAMAGE as error:
        raise UnfitArchive(problem=f"{path} is no backup, or it is damaged: {error}") from error
    except OSError as error:
        raise UnfitArchive(problem=f"{path} cannot be read: {error.strerror}.") from error


def require_whole(archive: zipfile.ZipFile, contents: Contents) -> None:
    """Read all of it and compare. Raises UnfitArchive."""
    members = {_member(name) for name in contents.tables} | {MANIFEST}
    if members != set(archive.namelist()):
        raise UnfitArchive(problem="The file is damaged: it does not hold the tables that it lists.")
    for name, listed in contents.tables.items():
        if _found(archive, name) != (listed.rows, listed.sha256):
            raise UnfitArchive(problem=f"The file is damaged: {name} is not what was backed up.")


def lines(archive: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    """The rows of a table, as they were written. Raises UnfitArchive."""
    try:
        with archive.open(_member(name)) as file:
            yield from file
    except DAMAGE as error:
        raise UnfitArchive(problem=f"The file is damaged: {name} cannot be read.") from error


def _found(archive: zipfile.ZipFile, name: str) -> tuple[int, str]:
    digest, rows = hashlib.sha256(), 0
    for line in lines(archive, name):
        digest.update(line)
        rows += 1
    return rows, digest.hexdigest()


def _contents(archive: zipfile.ZipFile) -> Contents:
    try:
        text = archive.read(MANIFEST)
        said: dict[str, Any] = json.loads(text)
        if archive.comment != hashlib.sha256(text).hexdigest().encode():
            raise UnfitArchive(problem="The file is damaged: its manifest is not what was written.")
        if said["format"] != FORMAT:
            raise UnfitArchive(problem=f"The file has format {said['format']}; this version reads {FORMAT}.")
        return Contents(
            made_at=dt.datetime.fromisoformat(said["made_at"]),
            migrations=list(said["migrations"]),
            tables={name: Listed(**listed) for name, listed in said["tables"].items()},
        )
    except DAMAGE as error:
        raise UnfitArchive(problem="The file is no backup of Lehrbook, or it is damaged.") from error


def _member(name: str) -> str:
    return f"tables/{name}.jsonl"
