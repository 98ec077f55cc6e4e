"""What every test may ask for."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from scheduling import kept
from tests.worlds import Town, build_town


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
