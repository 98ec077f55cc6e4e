"""How fast a real course is searched, and how fast what is loaded changes. `make bench` measures."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import count

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scheduling.engine.choosing import Offer, offers
from scheduling.engine.measures import Measure
from scheduling.engine.records import Placement, SupplyRecord, Taken, Use
from scheduling.engine.search import place
from scheduling.engine.series import weekly_days, weekly_space
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.benchmarks.term import DAY, DAYS, asks, empty, enter, term
from tests.benchmarks.year import YEAR_MIN, year

WITHIN = (0, DAYS * DAY)
MOST = 20


@pytest.fixture(scope="module")
def booked() -> World:
    return term()


def laid_out(found: list[Offer]) -> list[Offer]:
    """With the phases of all that each holds, as a page or the API asks for them."""
    for offer in found:
        for held in (*offer.placement.held, *(firing.held for firing in offer.placement.firings)):
            assert held.phases
    return found


@pytest.mark.parametrize("order", list(Measure))
def test_twenty_offers_of_a_course_at_two_studios_in_ninety_days(
    benchmark: BenchmarkFixture, booked: World, order: Measure
) -> None:
    wish = 18 * 60 if order is Measure.NEAREST else None

    found = benchmark(lambda: laid_out(offers(booked, asks(), WITHIN, order=order, wish=wish, most=MOST)))

    assert len(found) == MOST
    assert {offer.ask.studio_id for offer in found} == {1, 2}
    for offer in found:
        assert place(booked, offer.ask, offer.placement.start) == offer.placement
    assert sum(len(booked.claims(key)) for key in booked.apparatus) > 1000


def test_every_start_of_a_course_at_two_studios_in_ninety_days(
    benchmark: BenchmarkFixture, booked: World
) -> None:
    found = benchmark(lambda: [start_space(booked, ask, *WITHIN) for ask in asks()])

    assert all(spaces for spaces in found)


def test_a_series_of_ten_weeks(benchmark: BenchmarkFixture, booked: World) -> None:
    days = weekly_days(dt.date(1970, 1, 6), 10, frozenset())

    found = benchmark(lambda: weekly_space(booked, asks(teach_min=90, glass_kg=2.0)[0], days))

    assert found.every_week or found.spoilt


def test_one_occupancy_comes_and_goes_among_a_hundred_thousand(benchmark: BenchmarkFixture) -> None:
    """With the indexes standing that the search for six pieces has built, and a supply that all draw on."""
    world, ask, _ = year()
    drawn = [
        Use(span=claim.span, amount=1.0, held_by="a class", occupancy_id=key)
        for key, claim in enumerate(c for thing in world.apparatus for c in world.claims(thing))
    ]
    supply = SupplyRecord(id=1, name="power", unit="kW", limit=1000.0, uses=drawn)
    world = replace(world, supplies={1: supply})
    before = start_space(world, ask, 0, YEAR_MIN)
    world.changes(1)
    gap = before[len(before) // 2]
    span = (gap[0] + 10, gap[0] + 25)
    claim = Taken(apparatus_id=1, place=1, span=span, core=span, held_by="one more", occupancy_id=-1)
    use = Use(span=span, amount=2.0, held_by="one more", occupancy_id=-1)

    def come_and_go() -> None:
        world.enter(claim, [(1, use)])
        world.strike(claim)

    benchmark(come_and_go)

    assert start_space(world, ask, 0, YEAR_MIN) == before
    world.enter(claim, [(1, use)])
    after = start_space(world, ask, 0, YEAR_MIN)
    assert after != before
    world.strike(claim)
    assert len(supply.draws) == len(drawn)


def test_a_term_can_be_entered_class_by_class() -> None:
    """The made-up term stands on its own feet: what is entered is what a search then reckons with."""
    world, keys = empty(), count(1)
    answer = place(world, asks()[0], 10 * 60)
    assert isinstance(answer, Placement)

    enter(world, answer, keys)

    again = place(world, asks()[0], 10 * 60)
    assert isinstance(again, Placement)
    assert again.firings[0].joins is not None
