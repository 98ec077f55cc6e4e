"""A firing that went off before it was lit, by all that stands recorded of it."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import OutOfOrder
from scheduling.models import Firing
from scheduling.services.actuals import Recorded, record_actual, strike_actual
from tests.invariants import broken
from tests.services.test_booking import book, firing_of
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db

LIGHT_IT = "light it again, and record it"


@pytest.fixture(params=["blowing", "tiles"])
def firing(request: pytest.FixtureRequest, town: Town) -> Firing:
    """Of a class on Tuesday from 18:00 on, in an annealer or in a kiln."""
    return firing_of(book(town, request.param, local(1, 18)))


def record(town: Town, firing: Firing, kind: str, at: dt.datetime, read_c: float | None = None) -> Recorded:
    with time_machine.travel(at, tick=False):
        return record_actual(actor=town.technician, firing=firing, kind=kind, at=at, read_c=read_c)


def test_struck_that_it_was_lit_early_its_plan_stands(town: Town, firing: Firing) -> None:
    begin, cool = firing.occupancy.starts_at, firing.cool_at
    lit = record(town, firing, "lit", begin - dt.timedelta(hours=3))
    record(town, firing, "stopped-early", begin - dt.timedelta(hours=2))

    struck = strike_actual(actor=town.technician, actual=lit.actual)

    firing = Firing.objects.get()
    assert (firing.occupancy.starts_at, firing.cool_at, firing.broken_at) == (begin, cool, None)
    assert LIGHT_IT in struck.cautions[0]
    assert broken() == []


def test_what_went_off_before_is_struck_too_before_more_is_recorded(town: Town, firing: Firing) -> None:
    begin, cool = firing.occupancy.starts_at, firing.cool_at
    lit = record(town, firing, "lit", begin - dt.timedelta(hours=3))
    off = record(town, firing, "stopped-early", begin - dt.timedelta(hours=2))
    strike_actual(actor=town.technician, actual=lit.actual)

    with pytest.raises(OutOfOrder, match=r"Stopped early at .* cannot be: it is lit or loaded only from"):
        record(town, firing, "temperature", begin + dt.timedelta(minutes=10), 22.0)
    struck = strike_actual(actor=town.technician, actual=off.actual)

    assert struck.cautions == ()
    assert Firing.objects.get().cool_at == cool
    assert (
        record(town, firing, "temperature", begin + dt.timedelta(minutes=10), 22.0).actual.struck_at is None
    )


def test_off_in_the_minute_in_which_it_is_lit_or_loaded(town: Town, firing: Firing) -> None:
    begin = firing.occupancy.starts_at

    record(town, firing, "lit", begin)
    off = record(town, firing, "power-lost", begin)

    assert firing.recipe != "anneal" or LIGHT_IT in off.cautions[0]
    assert Firing.objects.get().occupancy.starts_at == begin
    assert broken() == []
