"""Periodic work is done when it is due, by one at a time, and whoever dies is succeeded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from celery import current_app
from django.conf import settings
from django.db import transaction

from scheduling import tasks
from scheduling.models import Lease, Message, RepeatedRequest
from scheduling.services import rounds
from scheduling.services.leases import Turn, TurnLost, give_back, take
from scheduling.services.messages import tell
from scheduling.services.rounds import ROUNDS, Round, make_rounds
from tests.worlds import ZONE, Town, local

pytestmark = pytest.mark.django_db
MINUTE, HOUR = dt.timedelta(minutes=1), dt.timedelta(hours=1)
NOON = local(1, 12)
Clock = time_machine.Traveller


@pytest.fixture
def clock() -> Iterator[Clock]:
    """A clock that stands until it is moved."""
    with time_machine.travel(NOON, tick=False) as travelled:
        yield travelled


def turn_at(name: str, *, every: dt.timedelta = HOUR) -> Turn | None:
    return take(name, every=every, lasts=2 * MINUTE)


def test_a_turn_is_one_persons_until_it_is_given_back_and_then_waits_for_its_hour(clock: Clock) -> None:
    turn = turn_at("sweeping")
    assert turn is not None
    assert turn_at("sweeping") is None
    give_back(turn)
    clock.shift(59 * MINUTE)
    assert turn_at("sweeping") is None

    clock.shift(MINUTE)

    assert turn_at("sweeping") is not None


def test_one_piece_of_work_does_not_wait_for_another(clock: Clock) -> None:
    assert turn_at("sweeping") is not None
    assert turn_at("washing") is not None


def test_whoever_says_nothing_until_the_lease_ends_is_succeeded_at_once_and_not_in_an_hour(
    clock: Clock,
) -> None:
    dead = turn_at("sweeping")
    assert dead is not None
    clock.shift(2 * MINUTE - dt.timedelta(seconds=1))
    assert turn_at("sweeping") is None

    clock.shift(dt.timedelta(seconds=1))

    successor = turn_at("sweeping")
    assert successor is not None
    assert successor.fence == dead.fence + 1


def test_whoever_keeps_the_turn_has_it_as_long_as_it_takes(clock: Clock) -> None:
    turn = turn_at("sweeping")
    assert turn is not None
    for _ in range(5):
        clock.shift(MINUTE)
        turn.keep()

    clock.shift(MINUTE)

    assert turn_at("sweeping") is None


def test_whoever_slept_beyond_the_end_writes_nothing_any_more(town: Town, clock: Clock) -> None:
    sleeper = turn_at("sweeping")
    assert sleeper is not None
    clock.shift(3 * MINUTE)
    successor = turn_at("sweeping")
    assert successor is not None

    @transaction.atomic
    def sweep() -> None:
        tell(person=town.student, subject="Swept", body="")
        sleeper.keep()

    with pytest.raises(TurnLost):
        sweep()
    give_back(sleeper)

    assert not Message.objects.exists()
    assert turn_at("sweeping") is None
    successor.keep()


def test_a_round_that_fails_stops_no_other_and_is_made_again_in_a_minute(
    clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    done: list[str] = []

    def fail(_turn: Turn) -> int:
        done.append("fail")
        raise OSError("no broom")

    def work(_turn: Turn) -> int:
        done.append("work")
        return 3

    table = (Round(name="sweeping", does=fail, every=HOUR), Round(name="washing", does=work, every=HOUR))

    assert make_rounds(table) == {"sweeping": 0, "washing": 3}
    assert make_rounds(table) == {}
    assert Lease.objects.get(name="sweeping").last_error == "OSError: no broom"
    assert "The round sweeping failed" in caplog.text
    clock.shift(MINUTE)
    make_rounds(table)
    assert done == ["fail", "work", "fail"]


def test_a_round_that_lost_its_turn_leaves_it_to_its_successor(
    clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    taken: list[Turn | None] = []

    def sleep(turn: Turn) -> int:
        clock.shift(3 * MINUTE)
        taken.append(turn_at("sweeping"))
        turn.keep()
        return 1

    assert make_rounds((Round(name="sweeping", does=sleep, every=HOUR),)) == {"sweeping": 0}

    assert "another process has taken it over" in caplog.text
    (successor,) = taken
    assert successor is not None
    successor.keep()


@pytest.mark.parametrize("day", [dt.date(2031, 3, 9), dt.date(2031, 11, 2)])
def test_an_hour_is_an_hour_when_the_clocks_change(day: dt.date) -> None:
    """The clocks of the test town jump from 02:00 to 03:00 in March, and back from 02:00 in November."""
    with time_machine.travel(dt.datetime.combine(day, dt.time(1, 30), ZONE), tick=False) as clock:
        turn = turn_at("sweeping")
        assert turn is not None
        give_back(turn)
        clock.shift(59 * MINUTE)
        assert turn_at("sweeping") is None
        clock.shift(MINUTE)
        assert turn_at("sweeping") is not None


def test_the_rounds_deliver_what_waits_and_forget_answers_after_48_hours(town: Town, clock: Clock) -> None:
    for key, age in (("old", 49), ("young", 47)):
        RepeatedRequest.objects.create(
            person=town.student, key=key, digest="", created_at=NOON - age * HOUR, status_code=201
        )
    tell(person=town.student, subject="Your seat", body="Torch 3.")

    done = make_rounds()
    assert (done["outbox"], done["repeated-requests"], done["sign-ups"]) == (1, 1, 0)

    assert Message.objects.get().sent_at == NOON
    assert RepeatedRequest.objects.get().key == "young"
    assert make_rounds() == {}
    clock.shift(MINUTE)
    assert make_rounds() == {"outbox": 0, "kept-seats": 0, "other-calendars": 0}


def test_many_answers_are_forgotten_some_at_a_time(
    town: Town, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduling.services.repeats.FORGOTTEN_AT_ONCE", 2)
    RepeatedRequest.objects.bulk_create(
        RepeatedRequest(person=town.student, key=str(n), digest="", created_at=NOON - 50 * HOUR)
        for n in range(5)
    )

    assert make_rounds()["repeated-requests"] == 5
    assert not RepeatedRequest.objects.exists()


def test_beat_asks_for_the_rounds_as_often_as_a_serving_process_does() -> None:
    schedule: dict[str, Any] = settings.CELERY_BEAT_SCHEDULE
    (entry,) = schedule.values()

    assert entry["task"] == tasks.make_rounds.name == rounds.MAKE_ROUNDS
    assert entry["task"] in current_app.tasks
    assert entry["schedule"] == entry["options"]["expires"] == rounds.TICK_S


def test_every_round_has_a_name_of_its_own_and_is_due_no_more_often_than_somebody_looks() -> None:
    assert len({each.name for each in ROUNDS}) == len(ROUNDS)
    assert all(each.every.total_seconds() >= rounds.TICK_S for each in ROUNDS)


def test_the_docs_name_every_round() -> None:
    page = (settings.BASE_DIR / "docs" / "running.md").read_text()

    for each in ROUNDS:
        assert f"| `{each.name}` | " in page, f"docs/running.md does not say what {each.name} does"


def test_the_worker_makes_the_same_rounds(town: Town) -> None:
    assert set(tasks.make_rounds()) == {each.name for each in ROUNDS}
