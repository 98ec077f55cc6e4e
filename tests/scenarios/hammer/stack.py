"""The whole service in processes of its own: a database, Redis, gunicorn, a worker and beat, for one run.

Nothing of the project is imported; everything that is started here is ended here, by its own id.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from http import HTTPStatus
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg

from tests import own_servers, servers
from tests.own_servers import LOOPBACK, Server

READY_WITHIN_S = 60.0
ENDS_WITHIN_S = 30.0
MAIL_MARK = "Message-ID: <"
TRACEBACK, LONGEST_ERROR = "Traceback (most recent call last):", 6000
APPLICATION = "scheduling.project.wsgi:application"


@dataclass
class Process:
    """One process of the service in a group of its own; what it prints, its mail too, stands in a file."""

    words: Sequence[str]
    printed: Path
    environment: dict[str, str]
    _runs: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, or start it again; it goes on in the same file."""
        with self.printed.open("ab") as output:
            self._runs = subprocess.Popen(
                self.words,
                env=self.environment,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def kill(self) -> None:
        """SIGKILL to it and all its children, in the middle of whatever they do."""
        if self._runs is not None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._runs.pid, signal.SIGKILL)
            self._runs.wait()

    def kill_a_child(self, number: int) -> None:
        """SIGKILL to one of its children; it starts another by itself."""
        if children := self._children():
            with contextlib.suppress(ProcessLookupError):
                os.kill(children[number % len(children)], signal.SIGKILL)

    def _children(self) -> list[int]:
        if self._runs is None:
            return []
        pid = self._runs.pid
        with contextlib.suppress(OSError):
            return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
        return []

    def end(self) -> None:
        """Ask it to end; whoever does not is killed."""
        if self._runs is None or self._runs.poll() is not None:
            return
        self._runs.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._runs.wait(ENDS_WITHIN_S)
        self.kill()


@dataclass
class Stack:
    """What runs, and where."""

    folder: Path
    vendor: str
    port: int
    database: str
    web: Process
    beside: list[Process]
    redis_port: int | None
    town: dict[str, Any] = field(default_factory=dict)
    redis: Server | None = None

    def connect(self) -> Any:
        """A connection of its own to the tables, past the project."""
        if self.vendor == "postgresql":
            return psycopg.connect(self.database, autocommit=True)
        return sqlite3.connect(self.database, timeout=60, isolation_level=None)

    def mailed(self) -> list[str]:
        """The uid of every message that went out, as often as it went."""
        lines = [
            line
            for file in self.folder.glob("*.txt")
            for line in file.read_text(errors="replace").splitlines()
        ]
        return [line.split(MAIL_MARK)[1].partition("@")[0] for line in lines if MAIL_MARK in line]

    def errors(self) -> Iterator[str]:
        """The errors that the web processes have printed, each once, with the end of its traceback."""
        printed = self.web.printed.read_text(errors="replace").split(TRACEBACK)[1:]
        found = {_last_line(each): each for each in printed}
        yield from (TRACEBACK + each[:LONGEST_ERROR] for each in found.values())

    def stop_redis(self) -> None:
        """Redis goes away with all it holds."""
        if self.redis is not None:
            self.redis.stop()
            self.redis = None

    def start_redis(self) -> None:
        """Redis comes back with nothing in it."""
        if self.redis is None and self.redis_port is not None:
            self.redis = own_servers.redis(self.redis_port)

    def wait_until_it_answers(self) -> None:
        """Wait for the web processes."""
        deadline = time.monotonic() + READY_WITHIN_S
        while time.monotonic() < deadline:
            if self._answers():
                return
            time.sleep(0.1)
        raise RuntimeError(f"It did not answer:\n{self.web.printed.read_text()[-3000:]}")

    def _answers(self) -> bool:
        """Whoever is told to sign in has reached the application and its database."""
        try:
            urllib.request.urlopen(f"http://{LOOPBACK}:{self.port}/api/me/", timeout=10).close()
        except urllib.error.HTTPError as error:
            return error.code == HTTPStatus.UNAUTHORIZED
        except OSError:
            return False
        return True


def _last_line(traceback: str) -> str:
    """What was raised: the first line after the first that stands at the margin."""
    lines = [line for line in traceback.splitlines()[1:] if line and not line.startswith(" ")]
    return lines[0] if lines else ""


@contextlib.contextmanager
def serving(
    *, vendor: str, workers: int, threads: int, application: str = APPLICATION, web_only: bool = False
) -> Iterator[Stack]:
    """The service on PostgreSQL with Redis, a worker and beat, or on SQLite alone; gone without a trace.

    `web_only`: on PostgreSQL there is no worker and no beat either, and what was written is durable.
    """
    folder = Path(tempfile.mkdtemp(prefix="lehrbook-hammer-"))
    with contextlib.ExitStack() as after:
        after.callback(shutil.rmtree, folder, ignore_errors=True)
        database = _new_database(after, durable=web_only) if vendor == "postgresql" else None
        stack = _laid_out(folder, database, [application, *_many(workers, threads)])
        if web_only:
            stack.beside.clear()
        after.callback(stack.stop_redis)
        stack.start_redis()
        _run([sys.executable, "manage.py", "migrate", "--no-input", "-v", "0"], stack)
        for process in (stack.web, *stack.beside):
            after.callback(process.end)
            process.start()
        stack.wait_until_it_answers()
        yield stack


def _many(workers: int, threads: int) -> list[str]:
    return ["--workers", str(workers), "--threads", str(threads)]


def _laid_out(folder: Path, database: str | None, served: Sequence[str]) -> Stack:
    environment = _environment(folder)
    redis_port, port = None, own_servers.free_port()
    if database is not None:
        redis_port = own_servers.free_port()
        environment["LEHRBOOK_DATABASE_URL"] = database
        environment["LEHRBOOK_REDIS_URL"] = f"redis://{LOOPBACK}:{redis_port}/0"
    gunicorn = [
        *("-m", "gunicorn", *served, "--bind", f"{LOOPBACK}:{port}", "--keep-alive", "30"),
        *("--no-control-socket", "--log-level", "warning"),
    ]
    celery = ["-m", "celery", "-A", "scheduling.project.celery"]
    beat = ["beat", "--schedule", str(folder / "beat-schedule"), "--pidfile="]
    beside = {"worker": [*celery, "worker", "--pool", "solo"], "beat": [*celery, *beat]}

    def process(name: str, words: Sequence[str]) -> Process:
        return Process([sys.executable, *words], folder / f"{name}.txt", environment)

    return Stack(
        folder=folder,
        vendor="postgresql" if database else "sqlite",
        port=port,
        database=database or str(folder / "lehrbook.sqlite3"),
        web=process("web", gunicorn),
        beside=[process(name, words) for name, words in beside.items()] if redis_port else [],
        redis_port=redis_port,
    )


def _environment(folder: Path) -> dict[str, str]:
    own = {name: value for name, value in os.environ.items() if not name.startswith("LEHRBOOK_")}
    (folder / "static").mkdir()
    return {
        **own,
        "LEHRBOOK_DATA_DIR": str(folder),
        "LEHRBOOK_SECRET_KEY": secrets.token_hex(),
        "DJANGO_SETTINGS_MODULE": "scheduling.project.settings",
        "PYTHONUNBUFFERED": "1",
    }


def _new_database(after: contextlib.ExitStack, *, durable: bool) -> str:
    server = servers.postgres(durable=durable)
    after.callback(server.stop)
    name = f"lehrbook_hammer_{secrets.token_hex(4)}"
    at = urlsplit(server.url)
    administering = at._replace(path="/postgres").geturl()

    def administer(statement: str) -> None:
        with psycopg.connect(administering, autocommit=True) as connection:
            connection.execute(statement.encode())

    administer(f"CREATE DATABASE {name}")
    after.callback(administer, f"DROP DATABASE {name} WITH (FORCE)")
    return at._replace(path=f"/{name}").geturl()


def _run(words: Sequence[str], stack: Stack) -> str:
    done = subprocess.run(words, env=stack.web.environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)} failed:\n{done.stdout}\n{done.stderr}")
    return done.stdout


def set_up(stack: Stack, module: str, *arguments: str) -> str:
    """Run a module of the tests within the project, as a process of its own; returns what it printed."""
    printed = _run([sys.executable, "-m", module, *arguments], stack)
    (stack.folder / "set-up.txt").write_text(printed)
    return printed
