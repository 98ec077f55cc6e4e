"""Worlds in which the start space and the slow judge once differed."""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.records import Duty, Kind, SupplyRecord, Use
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import OVENS, POWER, THINGS

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
