"""ical.js and node-ical, each in a process whose machine stands in some time zone.

A calendar that is read by the clocks of the machine, and not by its own, comes back different from the two.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from tests.faces.feeds.readers import EXPANDING, READERS, Seen

HERE = Path(__file__).parent / "node"
FILES = (HERE / "package.json", HERE / "read.mjs")
MACHINE_ZONES = ("America/Chicago", "Australia/Lord_Howe")
INSTALL = "npm install --no-package-lock --ignore-scripts --no-audit --no-fund --loglevel=error"


@dataclass(frozen=True)
class NodeReader:
    """One of the readers on a machine in one zone."""

    library: str
    machine_zone: str

    def __call__(self, content: bytes) -> list[Seen]:
        return sorted(map(_seen, ask(self.library, content, self.machine_zone)))

    def __str__(self) -> str:
        return f"{self.library} in {self.machine_zone}"


def _seen(facts: dict[str, str]) -> Seen:
    ends = {end: dt.datetime.fromisoformat(facts.pop(end)) for end in ("starts_at", "ends_at")}
    return Seen(starts_at=ends["starts_at"], ends_at=ends["ends_at"], **facts)


def as_jcal(content: bytes) -> Any:
    """A calendar as ical.js writes it in JSON."""
    return ask("jcal", content, MACHINE_ZONES[0])


def ask(reader: str, content: bytes, machine_zone: str) -> Any:
    process = _process(machine_zone)
    assert process.stdin
    assert process.stdout
    process.stdin.write(json.dumps({"reader": reader, "content": content.decode()}) + "\n")
    process.stdin.flush()
    line = process.stdout.readline()
    assert line, "The process of the readers has died; what it said of it stands above."
    answer = json.loads(line)
    assert "found" in answer, answer["error"]
    return answer["found"]


def end_processes() -> None:
    for process in _started:
        with suppress(BrokenPipeError), process:  # closes what it reads from, and waits
            pass
    _started.clear()
    _process.cache_clear()


_started: list[subprocess.Popen[str]] = []


@lru_cache
def _process(machine_zone: str) -> subprocess.Popen[str]:
    """One process for each zone, which answers as long as it is asked."""
    process = subprocess.Popen(
        ["node", str(installed() / "read.mjs")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env={**os.environ, "TZ": machine_zone},
    )
    _started.append(process)
    return process


def installed() -> Path:
    """The folder with the readers in it, beside the Python that runs the tests; filled where it is not there.

    It is named for what it holds. Of two runs that fill it at the same time, one is the first.
    """
    stamp = hashlib.sha256(b"".join(file.read_bytes() for file in FILES)).hexdigest()[:12]
    folder = Path(sys.prefix) / f"node-{stamp}"
    if not folder.is_dir():
        _install(folder)
    return folder


def _install(folder: Path) -> None:
    with tempfile.TemporaryDirectory(
        dir=folder.parent, prefix="node-new-", ignore_cleanup_errors=True
    ) as new:
        room = Path(new) / "room"
        room.mkdir()
        for file in FILES:
            shutil.copy(file, room)
        done = subprocess.run(INSTALL.split(), cwd=room, capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.fail(f"The readers of calendars for Node.js could not be installed:\n{done.stderr}")
        with suppress(OSError):
            room.rename(folder)


def _marked(reader: NodeReader) -> Any:
    return pytest.param(reader, marks=pytest.mark.node, id=str(reader))


ICAL_JS, NODE_ICAL = (
    [_marked(NodeReader(library, zone)) for zone in MACHINE_ZONES] for library in ("ical.js", "node-ical")
)
EVERY_READER = [*READERS, *ICAL_JS, *NODE_ICAL]
EVERY_EXPANDING = [*EXPANDING, *ICAL_JS, *NODE_ICAL]
# node-ical takes a backslash before an n for a line end, however they are escaped; and in a doubled hour its
# rules mean the first pass and its dates the second, so that it finds neither what is left out nor moved.
EXACT_READERS = [*READERS, *ICAL_JS]
EXACT_EXPANDING = [*EXPANDING, *ICAL_JS]
