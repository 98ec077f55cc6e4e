"""What cannot be fired is refused with a code, and with a sentence that says what to do about it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.routes import ROUTES, RouteName
from scheduling.engine.records import Duty
from scheduling.engine.world import World
from studios.thermal import Body
from tests.engine.kiln_work.workshop import (
    BRICK,
    DAY,
    FUSING,
    POWER,
    daily,
    disc,
    kiln,
    mould,
    shelves,
    square,
    taken,
    work,
    world,
)

SHOP = world(kiln(1), kiln(2, name="Big kiln"))
BOTH = (shelves(1, 300, 300), shelves(2, 600, 400))
SLUMPED = ROUTES[RouteName.FUSE_SLUMP]


def refused(shop: World, asked: WorkAsked) -> WorkRefused:
    found = answer(shop, asked)
    assert isinstance(found, WorkRefused)
    return found


def planned(shop: World, asked: WorkAsked) -> WorkPlanned:
    found = answer(shop, asked)
    assert isinstance(found, WorkPlanned), found
    return found


def test_no_pieces() -> None:
    assert refused(SHOP, work(kilns=BOTH)).code == "no-pieces"


def test_glasses_that_crack_in_one_piece() -> None:
    other = replace(FUSING, name="soft", expansion_per_k=104e-7)

    found = refused(SHOP, work(square(100), kilns=BOTH, mixed_with=(other,)))

    assert found.code == "mixed-expansions"
    assert "fusing" in found.sentence
    assert "soft" in found.sentence


def test_a_thickness_that_no_glass_has() -> None:
    assert refused(SHOP, work(square(100), kilns=BOTH, thickness_mm=4000.0)).code == "absurd-thickness"


@pytest.mark.parametrize("facts", [{"count": 0}, {"count": 2, "holds": 0}])
def test_a_mould_that_holds_nothing(facts: dict[str, Any]) -> None:
    empty = mould(7, 120, **facts)

    found = refused(SHOP, work(square(100, empty), kilns=BOTH, route=SLUMPED))

    assert found.code == "mould-empty"
    assert "Mould 7" in found.sentence


def test_a_mould_is_no_matter_where_nothing_sinks_into_it() -> None:
    assert planned(SHOP, work(square(100, mould(7, 120, count=0)), kilns=BOTH)).ready


@pytest.mark.parametrize(
    ("piece", "size"),
    [(square(500), "500 × 500 mm"), (disc(390), "Ø 390 mm")],
)
def test_a_piece_larger_than_every_shelf(piece: Any, size: str) -> None:
    found = refused(SHOP, work(square(100), piece, kilns=BOTH))

    assert found.code == "piece-too-large"
    assert size in found.sentence
    assert "580 × 380 mm" in found.sentence


def test_a_mould_larger_than_every_shelf() -> None:
    found = refused(SHOP, work(square(100, mould(7, 400, count=1)), kilns=BOTH, route=SLUMPED))

    assert found.code == "piece-too-large"
    assert found.sentence.startswith("A mould of 400 × 400 mm")


def test_no_kiln_at_all() -> None:
    assert refused(world(), work(square(100), kilns=())).code == "no-kiln"


def test_kilns_left_out_are_named_and_why() -> None:
    cool = Body(tau_h=4.0, ceiling_c=700, power_kw=2, ambient_c=22)
    shop = world(kiln(1, None), kiln(2, cool), kiln(3), kiln(4, active=False))

    found = refused(shop, work(square(100), kilns=[shelves(1, 300, 300), shelves(2, 300, 300)]))

    assert found.code == "no-kiln"
    assert "Kiln 1: it has no thermal record" in found.sentence
    assert "Kiln 2: it cannot fire this" in found.sentence
    assert "Kiln 3: nobody has entered how large its shelves are" in found.sentence
    assert "Kiln 4" not in found.sentence


def test_one_kiln_that_cannot_is_no_matter_where_another_can() -> None:
    shop = world(kiln(1, None), kiln(2))

    found = planned(shop, work(square(100), kilns=BOTH))

    assert {load.kiln_id for load in found.loads} == {2}


def test_cold_work_where_there_is_no_station() -> None:
    found = refused(SHOP, work(square(100), kilns=BOTH, cold_min_each=10))

    assert found.code == "no-cold-station"
    assert "Mill" in found.sentence


@pytest.mark.parametrize("aim", Aim)
def test_a_date_that_cannot_be_kept_is_told_with_the_earliest_that_can(aim: Aim) -> None:
    asked = work(square(100), kilns=BOTH, aim=aim)
    ready = planned(SHOP, replace(asked, aim=Aim.EARLIEST)).ready

    late = refused(SHOP, replace(asked, due=ready - 1))
    in_time = planned(SHOP, replace(asked, due=ready))

    assert (late.code, late.earliest) == ("too-late", ready)
    assert in_time.ready == ready


def test_kilns_that_never_come_free() -> None:
    shop = world(kiln(1, name="Small kiln"), days=10, taken=[taken(1, 0, 10 * DAY)])

    found = refused(shop, work(square(100), kilns=[shelves(1, 300, 300)]))

    assert found.code == "never"
    assert found.earliest is None
    assert "Small kiln is taken by other" in found.sentence


def test_nobody_ever_comes_to_unload() -> None:
    shop = world(kiln(1), days=10, hours={Duty.UNLOAD: daily(9, 21, 1)})

    assert refused(shop, work(square(100), kilns=[shelves(1, 300, 300)])).code == "never"


def test_nobody_ever_stays_for_all_of_the_loading() -> None:
    shop = world(kiln(1, prepare_min=90), days=10, hours={Duty.LOAD: daily(9, 10, 10)})

    assert refused(shop, work(square(100), kilns=[shelves(1, 300, 300)])).code == "never"


def test_more_than_there_are_nights_for() -> None:
    shop = world(kiln(1), days=4)
    asked = work(*[square(200)] * 9, kilns=[shelves(1, 300, 300)])

    found = refused(shop, asked)

    assert found.code == "never"
    assert "Mon 5 Jan 00:00" in found.sentence


def test_a_feeder_that_carries_no_kiln() -> None:
    shop = world(kiln(1, BRICK, draws=((POWER, 6.0),)), days=10, feeder=5.0)

    found = refused(shop, work(square(100), kilns=[shelves(1, 300, 300)]))

    assert found.code == "never"
    assert "Feeder" in found.sentence


def test_refusals_come_before_anything_is_looked_for() -> None:
    """A search that may take no time at all still says what is wrong."""
    found = answer(SHOP, work(square(900), kilns=BOTH), seconds=0, stop=lambda: True)

    assert isinstance(found, WorkRefused)
    assert found.code == "piece-too-large"


def test_a_search_that_is_stopped_before_it_finds_anything() -> None:
    found = answer(SHOP, work(square(100), kilns=BOTH), stop=lambda: True)

    assert isinstance(found, WorkRefused)
    assert found.code == "not-found-in-time"
