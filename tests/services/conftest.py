"""Monday at nine, and a kiln with shelves, for the tests that ask for them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from studios.models import Equipment
from tests.services.kiln_work import with_shelves
from tests.worlds import Town, local


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


@pytest.fixture
def kiln(town: Town, clock: time_machine.Traveller) -> Equipment:
    return with_shelves(town)
