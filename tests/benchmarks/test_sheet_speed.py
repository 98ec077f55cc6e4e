"""How much CPU the week sheet of forty pieces takes, beside reading the same rows with `values_list`.

The sheet is everything from the request to the bytes of its page; of the rows only the columns that it needs
are read, each table once. Both in CPU time of this process, in the same run. `make bench` measures.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Iterator

import pytest
from django.core.handlers.base import BaseHandler
from django.db.models import QuerySet
from django.http import HttpResponse
from django.test import Client, RequestFactory
from pytest_benchmark.fixture import BenchmarkFixture

from scheduling.models import Load, Occupancy, OccupancyPhase, Outage, SupplyUse
from studios.models import Closure, Equipment, Membership, StaffedHours, Supply, ThermalRecord
from tests.busy_week import busy_week
from tests.faces.web.bookings import WEEK
from tests.worlds import Town, build_town

pytestmark = [pytest.mark.django_db, pytest.mark.benchmark(timer=time.process_time)]


@pytest.fixture
def full() -> Iterator[Town]:
    """Forty pieces of equipment in a week in which hardly one of them is free.

    What pytest and its plugins keep in memory is no server's: it is not gone through for garbage meanwhile.
    """
    town = build_town()
    busy_week(town)
    gc.collect()
    gc.freeze()
    yield town
    gc.unfreeze()


def tables() -> Iterator[QuerySet]:
    """Every row that the sheet reads, with the columns it needs."""
    yield Membership.objects.values_list("role", "studio__name", "studio__slug", "studio__time_zone")
    yield StaffedHours.objects.values_list("studio_id", "weekday", "opens", "closes")
    yield Closure.objects.values_list("studio_id", "first_day", "last_day", "reason")
    yield Equipment.objects.values_list("id", "uid", "kind", "name", "number", "places", "station_id")
    yield ThermalRecord.objects.values_list("equipment_id", "valid_from", "ambient_c")
    yield Outage.objects.values_list("equipment_id", "starts_at", "ends_at", "reason")
    yield Supply.objects.values_list("id", "studio_id", "name", "kind", "limit")
    yield SupplyUse.objects.values_list("supply_id", "starts_at", "ends_at", "amount")
    yield _occupancies()
    yield OccupancyPhase.objects.order_by("starts_at").values_list(
        "occupancy_id", "kind", "starts_at", "ends_at", "from_c", "to_c", "toward_c", "tau_min"
    )
    yield Load.objects.values_list("firing_id", "session__course__name", "owner_id", "owner__name")


def _occupancies() -> QuerySet:
    session, seat = "booking__session__", "booking__seat__"
    own = ("id", "equipment_id", "place", "starts_at", "ends_at", "exclusive_from", "exclusive_to")
    fired = ("firing_id", "firing__uid", "firing__recipe", "firing__broken_at", "firing__changed_at")
    charged = ("charge__uid", "charge__booked_by_id", "charge__booked_by__name", "charge__changed_at")
    taught = ("id", "uid", "course__name", "instructor_id", "instructor__name", "changed_at")
    reserved = ("uid", "person_id", "person__name", "changed_at")
    held_by = (*(session + name for name in taught), *(seat + name for name in reserved))
    return Occupancy.objects.order_by("starts_at").values_list(*own, *fired, *charged, *held_by)


def test_sheet_rows_of_forty_pieces_by_values_list(benchmark: BenchmarkFixture, full: Town) -> None:
    def read() -> int:
        return sum(len(list(rows)) for rows in tables())

    assert benchmark.pedantic(read, rounds=15, warmup_rounds=2) > 4000


def test_sheet_of_forty_pieces_as_a_page(benchmark: BenchmarkFixture, full: Town) -> None:
    # Past all middleware, but not by the test client, which copies the context of every template.
    client, application = Client(), BaseHandler()
    client.force_login(full.manager)
    application.load_middleware()

    def ask() -> bytes:
        request = RequestFactory().get("/", {"week": WEEK})
        request.COOKIES = {name: cookie.value for name, cookie in client.cookies.items()}
        response = application.get_response(request)
        assert isinstance(response, HttpResponse)
        return response.content

    page: bytes = benchmark.pedantic(ask, rounds=15, warmup_rounds=2)
    assert page.count(b'class="held"') > 700
