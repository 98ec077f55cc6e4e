"""Two who lock the same rows the other way round: one is undone and tried again, and nobody is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from threading import Barrier

import pytest
from django.db import connection

from scheduling.services.transactions import one_write
from studios.models import Person
from tests.scenarios.test_races import at_once
from tests.worlds import Town, build_town

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        connection.vendor == "sqlite",
        reason="there a transaction that writes is the only one from its beginning",
    ),
]


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows, so that every thread sees it."""
    return build_town()


def test_a_deadlock_is_tried_again_and_shown_to_nobody(town: Town) -> None:
    both_hold_one, tries = Barrier(2), Counter[str]()

    def names(name: str, first: Person, second: Person) -> Callable[[], object]:
        @one_write
        def write() -> None:
            tries[name] += 1
            Person.objects.select_for_update().get(pk=first.pk)
            if tries[name] == 1:
                both_hold_one.wait(timeout=30)
            Person.objects.filter(pk=Person.objects.select_for_update().get(pk=second.pk).pk).update(
                name=name
            )

        return write

    answers = at_once(
        [names("one", town.student, town.instructor), names("two", town.instructor, town.student)], 2
    )

    assert answers == {"done": 2}
    assert tries.total() >= 3  # whoever was undone may be quicker again than the one who waits
    assert {Person.objects.get(pk=p.pk).name for p in (town.student, town.instructor)} == {"one", "two"}
