"""Worlds in which the start space and the slow judge once differed."""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.records import (
    Duty,
    FiringRecord,
    Kind,
    Lot,
    Placement,
    Store,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.search import place
from studios.thermal import Body, Recipe
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import GAS, HOLES, OVENS, POWER, SOFT, THINGS, piece

EQUIPMENT = {each.id: each for each in THINGS}
ANNEALER = replace(EQUIPMENT[11], bodies=((0, OVENS[0]),))
KILN = replace(EQUIPMENT[14], bodies=((0, OVENS[0]),))
HOLE = replace(EQUIPMENT[2], bodies=((0, HOLES[0]),), draws=((GAS, 7.0),))
AT_A_HOLE = an_hour((Kind.GLORY_HOLE, 1))


def test_who_unloads_in_no_time_is_still_there_when_it_is_cool() -> None:
    at_once = replace(ANNEALER, clear_min=0, draws=())
    world = world_of([at_once], hours={Duty.UNLOAD: ((0, 600),)})

    space, judged = both_find(world, an_hour(fires=(Kind.ANNEALER,)))

    assert space == judged
    assert judged


def test_an_annealer_and_a_kiln_of_one_class_draw_on_the_feeder_together() -> None:
    in_use = Use(span=(0, 3000), amount=1.0, held_by="a lamp")
    feeder = SupplyRecord(id=POWER, name="electricity", unit="kW", limit=11.0, uses=(in_use,))
    world = world_of([ANNEALER, KILN], supplies=[feeder])

    space, judged = both_find(world, an_hour(fires=(Kind.ANNEALER, Kind.KILN)))

    assert space == judged == set()


def test_gas_that_is_overdrawn_in_the_hours_of_a_later_class_refuses_none_before_it() -> None:
    hole = replace(EQUIPMENT[2], bodies=((0, HOLES[0]),), draws=((GAS, 7.0),))
    later = Taken(
        apparatus_id=2, place=1, span=(572, 660), core=(600, 660), held_by="another class", occupancy_id=5
    )
    uses = (
        Use(span=(572, 660), amount=7.0, held_by="another class", occupancy_id=5),
        Use(span=(620, 640), amount=3.0, held_by="a burner"),
    )
    gas = SupplyRecord(id=GAS, name="gas", unit="kW", limit=7.0, uses=uses)
    world = world_of([hole], taken=[later], supplies=[gas])

    space, judged = both_find(world, an_hour((Kind.GLORY_HOLE, 1)))

    assert space == judged
    assert 540 in judged


def session(hole: int, lit: int, works: int, until: int) -> Taken:
    return Taken(
        apparatus_id=hole,
        place=1,
        span=(lit, until),
        core=(works, until),
        held_by="another class",
        occupancy_id=5,
    )


def gas(*uses: Use) -> SupplyRecord:
    return SupplyRecord(id=GAS, name="gas", unit="kW", limit=7.0, uses=uses)


def used(begin: int, end: int, amount: float, key: int | None = 5) -> Use:
    return Use(span=(begin, end), amount=amount, held_by="another", occupancy_id=key)


def test_of_two_holes_alike_the_one_whose_next_class_gives_way_is_tried_too() -> None:
    twin = replace(HOLE, id=5, number=5)
    world = world_of([HOLE, twin], taken=[session(5, 500, 528, 600)], supplies=[gas(used(500, 600, 7.0))])

    space, judged = both_find(world, AT_A_HOLE)

    placed = {s for s in range(1000) if isinstance(place(world, AT_A_HOLE, s), Placement)}
    assert space == judged == placed


def test_what_follows_under_a_slower_record_never_overdraws_when_it_is_lit_anew() -> None:
    slower = replace(HOLE, bodies=((0, HOLES[1]), (590, HOLES[2])))
    supply = gas(used(585, 660, 7.0), used(560, 580, 3.0, None))
    world = world_of([slower], taken=[session(2, 585, 600, 660)], supplies=[supply])

    space, judged = both_find(world, AT_A_HOLE)

    assert space == judged


def test_a_record_too_weak_for_what_follows_is_no_crash() -> None:
    weak = Body(tau_h=0.3, ceiling_c=1050, power_kw=50, ambient_c=30)
    weaker = replace(HOLE, bodies=((0, HOLES[1]), (590, weak)))
    world = world_of([weaker], taken=[session(2, 585, 600, 660)], supplies=[gas(used(585, 660, 7.0))])

    space, judged = both_find(world, AT_A_HOLE)

    assert space == judged


def test_an_outage_that_ends_with_a_session_leaves_it_cold() -> None:
    outage = Taken(apparatus_id=2, place=0, span=(420, 460), core=(420, 460), held_by="repair", outage=True)
    world = world_of([HOLE], taken=[session(2, 372, 400, 460), outage], supplies=[gas()])

    space, judged = both_find(world, AT_A_HOLE)

    assert space == judged


def in_a_tank(*refills: tuple[int, float], full: float = 40.0) -> Store:
    return Store(
        name="gas", unit="kWh", full=full, floor=0.0, per_min=1 / 60, refills=refills, change_over=True
    )


def test_what_burns_on_after_the_next_delivery_takes_no_more_than_was_delivered() -> None:
    burner = replace(EQUIPMENT[13], bodies=((0, OVENS[0]),))
    asked = an_hour(fires=(Kind.ANNEALER,))
    world = replace(world_of([burner], supplies=[gas()]), stores={GAS: in_a_tank((0, 1.0), (500, 4.0))})

    space, judged = both_find(world, asked)

    placed = {s for s in range(1000) if isinstance(place(world, asked, s), Placement)}
    assert space == judged == placed
    changed = place(world, asked, max(s for s in judged if s < 500))
    assert isinstance(changed, Placement)
    assert changed.change_overs


def test_no_tank_is_filled_twice_in_a_minute() -> None:
    torch = replace(EQUIPMENT[9], draws=((GAS, 1.0),))
    world = replace(world_of([torch], supplies=[gas()]), stores={GAS: in_a_tank((0, 0.0), (300, 0.0))})

    space, judged = both_find(world, an_hour((Kind.TORCH, 1)))

    # Lit 5 minutes before its class, and changed over after the minute of the delivery.
    assert space == judged == {*range(6, 241), *range(306, 1000)}


def test_a_joined_firing_that_is_lit_later_burns_for_less_than_three_hours_and_counts_less() -> None:
    annealer = replace(EQUIPMENT[11], bodies=((0, OVENS[0]),), draws=((POWER, 4.0),))
    annealer = replace(annealer, breakers=frozenset({POWER}))
    lot = Lot(piece=piece(SOFT, 10.0), footprint_cm2=30, in_from=600, in_until=640, held_by="another")
    firing = FiringRecord(id=5, recipe=Recipe.ANNEAL, lots=(lot,), ready=600, last_in=640)
    stands = Taken(
        apparatus_id=11,
        place=1,
        span=(597, 900),
        core=(597, 900),
        held_by="another",
        occupancy_id=5,
        firing=firing,
    )
    uses = (used(300, 700, 6.25, None), used(597, 730, 4.0))
    feeder = SupplyRecord(id=POWER, name="electricity", unit="kW", limit=11.0, uses=uses)
    world = world_of([annealer], taken=[stands], supplies=[feeder])

    space, judged = both_find(world, an_hour(fires=(Kind.ANNEALER,)))

    assert space == judged
    assert 500 not in judged
    assert 595 in judged
