"""The demo as `make run` serves it: loaded once, then each time a copy of it, at an hour of its term."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import re
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.error import URLError
from zoneinfo import ZoneInfo

from scheduling.management.demo.term import Term
from tests.own_servers import LOOPBACK, free_port
from tests.scenarios.browser import clock

COPIED = ("lehrbook.sqlite3", "secret_key")
PATIENCE_S = 120


@dataclass(frozen=True, kw_only=True)
class Demo:
    """A data folder with the demo in it, and the term of which it was told."""

    folder: Path
    term: Term
    zone: ZoneInfo

    def moment(self, week: int, weekday: str, time: dt.time) -> dt.datetime:
        return self.term.moment(week, weekday, time, self.zone).astimezone(self.zone)


def loaded(folder: Path) -> Demo:
    """What somebody types who has just got it."""
    _manage(folder, "migrate", "--no-input", "--verbosity", "0")
    _manage(folder, "collectstatic", "--no-input", "--verbosity", "0")
    printed = _manage(folder, "load_demo")
    monday = re.search(r"Term: (\d{4}-\d\d-\d\d) to", printed)
    assert monday, printed
    term = Term(monday=dt.date.fromisoformat(monday[1]))
    return Demo(folder=folder, term=term, zone=ZoneInfo("America/Chicago"))


@contextlib.contextmanager
def served(demo: Demo, folder: Path, at: dt.datetime) -> Iterator[str]:
    """The address of a server of its own, on a copy that nobody else writes to; its clock shows `at`."""
    folder.mkdir()
    for name in COPIED:
        shutil.copy2(demo.folder / name, folder / name)
    (folder / "static").symlink_to(demo.folder / "static")
    address = f"{LOOPBACK}:{free_port()}"
    with (folder / "printed.txt").open("wb") as printed:
        process = subprocess.Popen(
            _serving(address),
            env=_environment(folder) | {clock.BEGINS_AT: at.isoformat()},
            stdout=printed,
            stderr=subprocess.STDOUT,
        )
    try:
        _wait_for(f"http://{address}/sign-in", process, folder / "printed.txt")
        yield f"http://{address}"
    finally:
        process.terminate()
        process.wait(PATIENCE_S)


def _serving(address: str) -> list[str]:
    how = ["--bind", address, "--threads", "4", "--no-control-socket", "-c", f"python:{clock.__name__}"]
    return [sys.executable, "-m", "gunicorn", "scheduling.project.wsgi:application", *how]


def _manage(folder: Path, *words: str) -> str:
    command = [sys.executable, "manage.py", *words]
    return subprocess.run(
        command, env=_environment(folder), stdout=subprocess.PIPE, text=True, check=True
    ).stdout


def _environment(folder: Path) -> dict[str, str]:
    """As on a machine on which nothing was set but the folder."""
    others = {name: value for name, value in os.environ.items() if not name.startswith("LEHRBOOK_")}
    return others | {"LEHRBOOK_DATA_DIR": str(folder)}


def _wait_for(address: str, process: subprocess.Popen[bytes], printed: Path) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while True:
        with contextlib.suppress(URLError, ConnectionError), urllib.request.urlopen(address):
            return
        assert process.poll() is None, printed.read_text()
        assert time.monotonic() < deadline, printed.read_text()
        time.sleep(0.05)
