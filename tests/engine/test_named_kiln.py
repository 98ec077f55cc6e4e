"""Pieces that are to go into one kiln go into that one, whichever others stand free."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.engine.records import (
    Apparatus,
    Ask,
    Kind,
    Placement,
    Refusal,
    Store,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.small import an_hour, world_of
from tests.engine.reference.town import GAS, OVENS, POWER, thing

UNTIL = 900
SMALL, BIG = 1, 2


def kiln(number: int, capacity_cm2: int, kw: float) -> Apparatus:
    return thing(
        number,
        Kind.KILN,
        (POWER, kw),
        (GAS, 1.0),
        bodies=((0, OVENS[0]),),
        prepare_min=20,
        clear_min=15,
        capacity_cm2=capacity_cm2,
    )


KILNS = kiln(SMALL, 100, 4.0), kiln(BIG, 200, 6.0)


def fired_in(*kilns: int) -> Ask:
    """Pieces that are loaded as soon as somebody begins to, into one of these."""
    return replace(an_hour(fires=(Kind.KILN,)), teach_min=0, only=frozenset(kilns))


def world(*taken: Taken, things: tuple[Apparatus, ...] = KILNS, busy: Span = (0, 0)) -> World:
    use = Use(span=busy, amount=5.0, held_by="Other")
    feeder = SupplyRecord(id=POWER, name="Feeder", unit="kW", limit=10.0, uses=(use,))
    gas = SupplyRecord(id=GAS, name="Gas", unit="kW", limit=10.0, uses=())
    return world_of(things, taken=taken, supplies=(feeder, gas))


def taken(number: int, span: Span) -> Taken:
    return Taken(apparatus_id=number, place=1, span=span, core=span, held_by="other")


def test_it_is_the_one_that_was_named_though_a_smaller_one_is_free() -> None:
    answer = place(world(), fired_in(BIG), 0)

    assert isinstance(answer, Placement)
    assert [firing.held.apparatus_id for firing in answer.firings] == [BIG]


def test_what_has_it_is_the_only_reason() -> None:
    answer = place(world(taken(BIG, (0, 300))), fired_in(BIG), 0)

    assert isinstance(answer, Refusal)
    assert [reason.code for reason in answer.reasons] == ["no-kiln"]
    assert "kiln 1" not in answer.reasons[0].sentence
    assert answer.not_before == 300


def test_a_store_that_only_another_burns_is_no_matter() -> None:
    dry = Store(name="gas", unit="kWh", full=9.0, floor=0.0, per_min=1.0, refills=((0, 5.0),))
    electric = replace(KILNS[0], draws=((POWER, 4.0),))
    shop = replace(world(things=(electric, KILNS[1])), stores={GAS: dry})

    assert start_space(shop, fired_in(SMALL), 0, 10) == ((0, 10),)
    assert start_space(shop, fired_in(BIG), 0, 10) == ()


busy = st.tuples(st.integers(0, UNTIL), st.integers(1, 300)).map(lambda given: (given[0], sum(given)))


@settings(max_examples=25, deadline=None)
@given(busy, busy, busy, st.sampled_from([SMALL, BIG]))
def test_its_starts_are_those_that_it_would_have_alone(one: Span, other: Span, fed: Span, named: int) -> None:
    claims = (taken(SMALL, one), taken(BIG, other))
    alone = (KILNS[named - 1],)

    found = start_space(world(*claims, busy=fed), fired_in(named), 0, UNTIL)

    assert found == start_space(world(claims[named - 1], things=alone, busy=fed), fired_in(named), 0, UNTIL)


@settings(max_examples=10, deadline=None)
@given(busy, busy, busy, st.sampled_from([SMALL, BIG]))
def test_they_are_the_starts_that_can_be_placed(one: Span, other: Span, fed: Span, named: int) -> None:
    shop = world(taken(SMALL, one), taken(BIG, other), busy=fed)

    found = start_space(shop, fired_in(named), 0, UNTIL)

    placed = {s for s in range(UNTIL) if isinstance(place(shop, fired_in(named), s), Placement)}
    assert {minute for span in found for minute in range(*span)} == placed
