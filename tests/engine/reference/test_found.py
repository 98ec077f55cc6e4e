"""Worlds in which the start space and the slow judge once differed."""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.records import Duty, Kind, SupplyRecord, Taken, Use
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import GAS, HOLES, OVENS, POWER, THINGS

EQUIPMENT = {each.id: each for each in THINGS}
ANNEALER = replace(EQUIPMENT[11], bodies=((0, OVENS[0]),))
KILN = replace(EQUIPMENT[14], bodies=((0, OVENS[0]),))


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
