"""Helpers for the tests of backups: files as they lie there, and databases beside the one of the tests."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.db import connection

PATIENCE_S = 120
# What belongs to processes, and what must differ after a restore.
APART = {
    "django_session",
    "scheduling_lease",
    "scheduling_feedcopy",
    "scheduling_revision",
    "sqlite_sequence",
    "django_migrations",
}


def manage(environment: dict[str, str], *words: str) -> str:
    """Run a command in a process of its own; what it said."""
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def fresh_sqlite(folder: Path) -> dict[str, str]:
    """The environment of an embedded database of its own, with its tables made and nothing in them."""
    folder.mkdir()
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LEHRBOOK_")}
    environment = {**kept, "LEHRBOOK_DATA_DIR": str(folder), "LEHRBOOK_PULSE": "0"}
    manage(environment, "migrate", "--no-input", "--verbosity", "0")
    return environment


def digests(path: Path) -> dict[str, str]:
    """The digest of each table of a backup, without the counts."""
    with zipfile.ZipFile(path) as archive:
        listed = json.loads(archive.read("manifest.json"))["tables"]
    return {name: said["sha256"] for name, said in listed.items() if name not in APART}


def rows_of(path: Path, table: str) -> list[dict[str, Any]]:
    """The rows of a table as a backup has them, by column."""
    with zipfile.ZipFile(path) as archive:
        columns = json.loads(archive.read("manifest.json"))["tables"][table]["columns"]
        lines = archive.read(f"tables/{table}.jsonl").split(b"\n")[:-1]
    return [dict(zip(columns, json.loads(line), strict=True)) for line in lines]


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, read past all models."""
    found = {}
    with connection.cursor() as cursor:
        for table in set(connection.introspection.table_names(cursor)) - APART:
            cursor.execute(f'SELECT * FROM "{table}"')
            found[table] = sorted(cursor.fetchall(), key=repr)
    return found


def rewritten(path: Path, to: Path, change: Callable[[dict[str, Any], dict[str, bytes]], None]) -> Path:
    """The same backup with something changed, and sealed as if it had been written so."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(parts.pop("manifest.json"))
    change(manifest, parts)
    for table, listed in manifest["tables"].items():
        lines = parts[f"tables/{table}.jsonl"]
        listed |= {"sha256": hashlib.sha256(lines).hexdigest(), "rows": lines.count(b"\n")}
    text = json.dumps(manifest).encode()
    with zipfile.ZipFile(to, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
        archive.writestr("manifest.json", text)
        archive.comment = hashlib.sha256(text).hexdigest().encode()
    return to
