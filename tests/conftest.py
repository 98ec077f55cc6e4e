"""What every test may ask for."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from scheduling import kept
from tests.worlds import Town, build_town

# How long a made-up case takes says something of the machine, and nothing of the code.
settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("unhurried")


@pytest.fixture
def town(db: None) -> Town:
    """Two studios with everything that classes need; see tests/worlds.py."""
    return build_town()


@pytest.fixture(autouse=True)
def nothing_kept() -> Iterator[None]:
    """A database that is undone or emptied counts anew; what was kept of it goes too."""
    kept.forget()
    yield
    kept.forget()
