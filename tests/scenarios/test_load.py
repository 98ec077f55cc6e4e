"""Many clients over HTTP on a small hot set, and processes that die meanwhile: short runs of the load."""

from __future__ import annotations

import pytest

from tests.scenarios.load import Load, put_to_the_test


def test_many_clients_on_sqlite_lose_nothing_and_get_nothing_twice() -> None:
    verdict = put_to_the_test(
        Load(database="sqlite", clients=8, operations=300, people=30, workers=2, threads=4, hurry=True)
    )

    assert verdict.wrong == []
    assert {"reserve", "torch", "keep", "join_line", "book", "give_back", "ask_job", "seek"} <= {
        entry.asked.act for entry in verdict.journal.entries if entry.done
    }


@pytest.mark.redis
@pytest.mark.postgres_only
def test_nothing_is_lost_when_processes_are_killed_and_redis_goes_away() -> None:
    verdict = put_to_the_test(
        Load(
            clients=16,
            operations=300,
            people=30,
            workers=2,
            threads=4,
            kill=True,
            every_s=3.0,
            redis_away_s=5.0,
            hurry=True,
        )
    )

    assert verdict.wrong == []
    assert sum(verdict.killed.values()) > 1
