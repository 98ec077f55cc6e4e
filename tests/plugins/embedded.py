"""Every run starts here: a data folder of its own on the embedded default, whoever else is testing beside.

It is loaded with `-p` from pyproject.toml, because Django reads its settings before any conftest.py.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from tests import servers

UNTESTED = pytest.StashKey[dict[str, int]]()


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Iterator[None]:
    """Forget the developer's own settings and keep nothing of this run."""
    for name in [name for name in os.environ if name.startswith("LEHRBOOK_")]:
        del os.environ[name]
    folder = Path(tempfile.mkdtemp(prefix="lehrbook-tests-"))
    # WhiteNoise warns about a folder of collected files that is not there.
    (folder / "static").mkdir()
    os.environ["LEHRBOOK_DATA_DIR"] = str(folder)
    # No thread beside the tests; a test that wants one starts a server of its own.
    os.environ["LEHRBOOK_PULSE"] = "0"
    early_config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
    return (yield)


@pytest.hookimpl(trylast=True)
def pytest_configure(config: pytest.Config) -> None:
    """Serve static files as they lie, and spare the suite a password hash that is slow on purpose."""
    config.stash[UNTESTED] = {}
    plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    settings.STORAGES = {**settings.STORAGES, "staticfiles": plain}
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what this run has no tool for; `pytest_terminal_summary` names it."""
    absent = _absent_tools(config, items)
    dropped = [item for item in items if any(item.get_closest_marker(mark) for mark in absent)]
    for mark in absent:
        count = sum(1 for item in dropped if item.get_closest_marker(mark))
        if count and mark != "postgres_only":
            config.stash[UNTESTED][mark] = count
    if dropped:
        config.hook.pytest_deselected(items=dropped)
        items[:] = [item for item in items if item not in dropped]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Never leave a test out without a word."""
    for mark, count in config.stash[UNTESTED].items():
        terminalreporter.write_line(f"Left out for want of a tool: {count} tests marked {mark}.", yellow=True)


def _absent_tools(config: pytest.Config, items: list[pytest.Item]) -> list[str]:
    absent = []
    if not config.pluginmanager.has_plugin("tests.plugins.postgres"):
        absent.append("postgres_only")
    if any(item.get_closest_marker("redis") for item in items) and not servers.redis_is_there():
        absent.append("redis")
    if not servers.chromium_path():
        absent.append("browser")
    if not servers.node_is_there():
        absent.append("node")
    return absent


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """A real Redis, as an address for LEHRBOOK_REDIS_URL."""
    server = servers.redis()
    yield server.url
    server.stop()
