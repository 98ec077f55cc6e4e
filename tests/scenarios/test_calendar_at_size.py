"""A calendar of 1,000 events over HTTP, alone and among ten times the events of others.

`make bench` measures it on PostgreSQL; in the suite each runs once and must be right. A 304 stands beside a
plain view that makes one indexed query behind the same middleware; a calendar written anew beside the same
rows written by the icalendar library.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.handlers.wsgi import WSGIHandler, WSGIRequest
from django.core.management import call_command
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.test import RequestFactory
from django.urls import path, reverse
from django.utils import timezone
from pytest_benchmark.fixture import BenchmarkFixture
from pytest_django.plugin import DjangoDbBlocker

from scheduling.models import Booking, Course, FeedKey, Session
from scheduling.project.urls import urlpatterns as ours
from scheduling.selectors.feed_links import rolling_calendar
from scheduling.services.calendars import new_feed_key
from studios.models import Person, Role, Studio
from tests.benchmarks.test_calendar_speed import by_icalendar
from tests.faces.feeds import rows

pytestmark = pytest.mark.django_db
EVENTS, OTHERS, CHANGED = 1000, 10, 5
HOUR = dt.timedelta(hours=1)


def bare(_request: HttpRequest, key: str) -> HttpResponse:
    """One row, by one indexed query."""
    return HttpResponse(FeedKey.objects.get(key=key).label)


urlpatterns = [path("bare/<slug:key>.txt", bare), *ours]


@pytest.fixture(scope="module")
def key(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[FeedKey]:
    """The link of somebody who teaches 1,000 classes in the half year to come, while this module runs."""
    with django_db_blocker.unblock():
        studio = rows.studio(latitude="44.978000", longitude="-93.265000")
        vera = rows.person("Vera", studio, Role.INSTRUCTOR)
        taught_by(vera, studio, rows.course())
        yield new_feed_key(actor=vera, label="my phone")
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture(scope="module")
def crowded(key: FeedKey, django_db_blocker: DjangoDbBlocker) -> FeedKey:
    """Ten others teach as much at the same studio."""
    with django_db_blocker.unblock():
        studio, course = Studio.objects.get(), Course.objects.get()
        for number in range(OTHERS):
            taught_by(rows.person(f"Other{number}", studio, Role.INSTRUCTOR), studio, course)
    return key


@pytest.fixture(autouse=True)
def with_a_bare_view(settings: Any) -> None:
    settings.ROOT_URLCONF = __name__


def taught_by(person: Person, studio: Studio, course: Course) -> None:
    bookings = Booking.objects.bulk_create(Booking(studio=studio, booked_by=person) for _ in range(EVENTS))
    first = timezone.now() - dt.timedelta(days=20)
    Session.objects.bulk_create(
        Session(
            booking=booking,
            course=course,
            studio=studio,
            instructor=person,
            starts_at=first + number * 4 * HOUR,
            ends_at=first + number * 4 * HOUR + 3 * HOUR,
            seats=6,
        )
        for number, booking in enumerate(bookings)
    )


class Server:
    """What a request meets from the first middleware on; what lies before is the web server's."""

    def __init__(self) -> None:
        self.handler, self.factory = WSGIHandler(), RequestFactory()

    def request(self, address: str, **headers: str) -> WSGIRequest:
        return self.factory.get(address, headers={"host": "127.0.0.1", **headers})

    def answer(self, request: WSGIRequest) -> HttpResponseBase:
        return self.handler.get_response(request)


def measured(benchmark: BenchmarkFixture, ask: Callable[[Server], WSGIRequest], rounds: int) -> HttpResponse:
    server = Server()
    response = benchmark.pedantic(
        server.answer, setup=lambda: ((ask(server),), {}), rounds=rounds, warmup_rounds=5
    )
    assert isinstance(response, HttpResponse)
    return response


def not_modified(benchmark: BenchmarkFixture, key: FeedKey) -> None:
    address, server = reverse("feed", args=[key.key]), Server()
    whole = server.answer(server.request(address, **{"accept-encoding": "gzip"}))
    held = {"accept-encoding": "gzip", "if-none-match": whole["ETag"]}

    response = measured(benchmark, lambda server: server.request(address, **held), rounds=1000)

    assert (response.status_code, response.content) == (304, b"")


def test_calendar_one_indexed_query_behind_the_same_middleware(
    benchmark: BenchmarkFixture, key: FeedKey
) -> None:
    response = measured(benchmark, lambda server: server.request(f"/bare/{key.key}.txt"), rounds=1000)
    assert response.content == b"my phone"


def test_calendar_304_of_a_thousand_events(benchmark: BenchmarkFixture, key: FeedKey) -> None:
    not_modified(benchmark, key)


def test_calendar_304_among_ten_times_the_events_of_others(
    benchmark: BenchmarkFixture, crowded: FeedKey
) -> None:
    not_modified(benchmark, crowded)
    assert Session.objects.count() == (OTHERS + 1) * EVENTS


def change_a_few(key: FeedKey) -> None:
    """What a day brings: five classes are moved by an hour."""
    few = Session.objects.filter(instructor=key.person).order_by("changed_at", "pk")[:CHANGED]
    for session in few:
        session.starts_at, session.sequence = session.starts_at + HOUR / 60, session.sequence + 1
        session.changed_at = timezone.now()
        session.save()


def written_anew(benchmark: BenchmarkFixture, key: FeedKey) -> None:
    address = reverse("feed", args=[key.key])

    def ask(server: Server) -> WSGIRequest:
        change_a_few(key)
        return server.request(address)

    response = measured(benchmark, ask, rounds=20)

    assert response.content.count(b"BEGIN:VEVENT") == EVENTS


def test_calendar_over_http_after_five_of_a_thousand_have_changed(
    benchmark: BenchmarkFixture, key: FeedKey
) -> None:
    written_anew(benchmark, key)


def test_calendar_over_http_after_five_have_changed_among_ten_times_the_events_of_others(
    benchmark: BenchmarkFixture, crowded: FeedKey
) -> None:
    written_anew(benchmark, crowded)


def test_calendar_rows_read_and_written_by_the_icalendar_library(
    benchmark: BenchmarkFixture, key: FeedKey
) -> None:
    def by_the_library() -> bytes:
        rolling = rolling_calendar(key, timezone.now())
        assert rolling is not None
        return by_icalendar(rolling.file)

    assert benchmark.pedantic(by_the_library, rounds=5).count(b"BEGIN:VEVENT") == EVENTS
