"""What every test may ask for."""

from __future__ import annotations

import pytest

from tests.worlds import Town, build_town


@pytest.fixture
def town(db: None) -> Town:
    """Two studios with everything that classes need; see tests/worlds.py."""
    return build_town()
