"""A search through the API, with the demo's term at two hot shops, alone and among ten times the studios.

`make bench` measures it on PostgreSQL; in the suite each runs once and must be right.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from io import StringIO
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.test import Client
from pytest_benchmark.fixture import BenchmarkFixture
from pytest_django.plugin import DjangoDbBlocker

from scheduling import kept
from scheduling.models import Occupancy, Session
from studios.models import Person, Studio
from tests.scenarios.copies import copy_of

pytestmark = pytest.mark.django_db
COURSE, DAYS, MOST = "beginners-blowing", 90, 20


@pytest.fixture(scope="module")
def term(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Studio]:
    """The demo, and its hot shop once more, for good while this module runs."""
    with django_db_blocker.unblock():
        call_command("load_demo", "--yes", stdout=StringIO())
        hot_shop = Studio.objects.get(slug="quillback")
        copy_of(hot_shop, 2)
        yield hot_shop
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture(scope="module")
def many(term: Studio, django_db_blocker: DjangoDbBlocker) -> int:
    """Ten times as many studios; how many there are."""
    with django_db_blocker.unblock():
        for number in range(3, 3 + 9 * Studio.objects.count()):
            copy_of(term, number)
        return Studio.objects.count()


@pytest.fixture(autouse=True)
def as_served(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each test is a transaction, which a served request is not: nothing would be kept in one."""
    monkeypatch.setattr(kept, "connection", SimpleNamespace(in_atomic_block=False))


class Asking:
    """The instructor of the course, who asks where and when it can be held again."""

    def __init__(self, course: str) -> None:
        session = Session.objects.filter(course__slug=course).earliest("starts_at")
        self.teacher: Person = session.instructor
        self.first = session.starts_at.date() - dt.timedelta(days=7)
        self.client = Client(headers={"host": "127.0.0.1"})
        self.client.force_login(self.teacher)

    def offers(self, **more: str) -> list[dict[str, object]]:
        asked = {
            "course": COURSE,
            "studio": ["quillback", "quillback-2"],
            "first_day": self.first.isoformat(),
            "last_day": (self.first + dt.timedelta(days=DAYS)).isoformat(),
            "most": str(MOST),
            **more,
        }
        response = self.client.get("/api/best-starts/", asked)
        assert response.status_code == 200, response.content
        return list(response.json()["offers"])


def assert_right(found: list[dict[str, object]]) -> None:
    assert len(found) == MOST
    names = {offer["option"]["studio"] for offer in found}  # type: ignore[index]  # as the API says
    assert names == {"quillback", "quillback-2"}


def test_api_search(benchmark: BenchmarkFixture, term: Studio) -> None:
    asking = Asking(COURSE)
    asking.offers()

    assert_right(benchmark(asking.offers))
    assert Occupancy.objects.count() > 500


def test_api_search_by_a_process_that_has_nothing_loaded(benchmark: BenchmarkFixture, term: Studio) -> None:
    asking = Asking(COURSE)
    asking.offers()

    assert_right(benchmark.pedantic(asking.offers, setup=kept.forget, rounds=15))


def test_api_search_after_another_has_booked(benchmark: BenchmarkFixture, term: Studio) -> None:
    """All that is taken of two pieces of equipment is read again and compared."""
    asking = Asking(COURSE)
    asking.offers()
    rows = Occupancy.objects.filter(equipment__studio=term, equipment__kind__in=["furnace", "annealer"])
    touched = [rows.filter(equipment__kind=kind)[0] for kind in ("furnace", "annealer")]

    def somebody_writes() -> None:
        for row in touched:
            row.save()

    assert_right(benchmark.pedantic(asking.offers, setup=somebody_writes, rounds=15))


def test_api_search_among_ten_times_the_studios(benchmark: BenchmarkFixture, many: int) -> None:
    asking = Asking(COURSE)
    asking.offers()

    assert_right(benchmark(asking.offers))
    assert many == 30


def test_api_search_among_ten_times_the_studios_by_a_process_that_has_nothing_loaded(
    benchmark: BenchmarkFixture, many: int
) -> None:
    asking = Asking(COURSE)
    asking.offers()

    assert_right(benchmark.pedantic(asking.offers, setup=kept.forget, rounds=15))


def test_api_series_of_ten_weeks(benchmark: BenchmarkFixture, term: Studio) -> None:
    asking = Asking(COURSE)
    asked = {"course": COURSE, "studio": "quillback", "first_day": asking.first.isoformat(), "weeks": "10"}

    response = benchmark(lambda: asking.client.get("/api/weekly-times/", asked))

    assert response.status_code == 200, response.content
    assert len(response.json()["days"]) == 10
