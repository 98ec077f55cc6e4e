"""A plan is sought while the broker is away: the answer is there, and nothing is said to have broken."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from kombu.exceptions import OperationalError

from scheduling.models import KilnAnswer
from scheduling.services import kiln_answers
from tests.faces.api.conftest import Speak
from tests.services.kiln_work import a_job, with_shelves
from tests.worlds import build_town, local

pytestmark = pytest.mark.django_db(transaction=True)


class Away:
    """A broker that nobody reaches."""

    def signature(self, *_words: Any, **_facts: Any) -> Away:
        return self

    def apply_async(self, **_facts: Any) -> None:
        raise OperationalError("connection refused")


def test_while_the_broker_is_away_an_answer_is_asked_for_and_repeated_as_it_was(
    settings: Any, monkeypatch: pytest.MonkeyPatch, speak: Speak
) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        town = build_town()
        with_shelves(town)
        job, key = a_job(town), {"Idempotency-Key": "seek-1"}
        settings.REDIS_URL = "redis://nobody.example/0"
        monkeypatch.setattr(kiln_answers, "current_app", Away())

        first = speak(town.instructor).post(f"kiln-jobs/{job.uid}/seek/", headers=key)
        again = speak(town.instructor).post(f"kiln-jobs/{job.uid}/seek/", headers=key)

    assert first.status_code == 202, first.content
    assert (again.status_code, again.json()) == (202, first.json())
    assert KilnAnswer.objects.count() == 1
