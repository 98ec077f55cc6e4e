"""`-p tests.plugins.postgres`: the same suite on a real PostgreSQL.

A plugin and not a conftest.py: the address must be in the environment before Django reads its settings.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests import servers


@pytest.hookimpl(wrapper=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Iterator[None]:
    """Start the server, name it, and stop it when the run is over."""
    server = servers.postgres()
    early_config.add_cleanup(server.stop)
    os.environ["LEHRBOOK_DATABASE_URL"] = server.url
    os.environ["LEHRBOOK_SECRET_KEY"] = "for the tests only"
    return (yield)
