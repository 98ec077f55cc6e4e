"""A breaker carries long loads up to 80 % of its rating: they count at 125 %."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.breakers import counted
from scheduling.engine.records import Apparatus, Ask, Kind, Placement, Refusal, SupplyRecord, Taken, Use
from scheduling.engine.search import place
from scheduling.engine.world import World
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import HOLES, OVENS, POWER, thing

VOLTS = 240
# NEC (NFPA 70) 210.20(A), 215.3: 8.3 kW at 240 V is 34.6 A, counted as 43.2 A.
KILN_KW, KILN_A, COUNTED_A, FEEDER_A = 8.3, 34.6, 43.2, 100


def plugged_in(number: int, kind: Kind, kw: float, **facts: object) -> Apparatus:
    return thing(number, kind, (POWER, kw), breakers=frozenset({POWER}), **facts)


def feeder(kw: float, *uses: Use) -> SupplyRecord:
    return SupplyRecord(id=POWER, name="Feeder", unit="kW", limit=kw, uses=uses)


def kilns(count: int) -> list[Apparatus]:
    """Kilns of 8.3 kW, each big enough for one class."""
    return [
        plugged_in(1 + n, Kind.KILN, KILN_KW, bodies=((0, OVENS[1]),), capacity_cm2=60) for n in range(count)
    ]


def test_the_published_kiln_counts_so_many_amperes() -> None:
    kiln = kilns(1)[0]

    assert kiln.draws[0][1] * 1000 / VOLTS == pytest.approx(KILN_A, abs=0.05)
    assert counted(kiln, POWER, KILN_KW, 600) * 1000 / VOLTS == pytest.approx(COUNTED_A, abs=0.05)


def test_three_of_the_published_kilns_do_not_fit_a_feeder_of_100_amperes() -> None:
    world = world_of(kilns(3), supplies=[feeder(FEEDER_A * VOLTS / 1000)])
    ask = an_hour(fires=(Kind.KILN,))

    placed = [place_and_enter(world, ask) for _ in range(3)]

    assert [isinstance(answer, Placement) for answer in placed] == [True, True, False]
    refused = placed[2]
    assert isinstance(refused, Refusal)
    assert "rated for 24 kW" in refused.reasons[0].sentence
    assert "would have to carry 31.125, loads of 3 hours or more counted at 125 %" in (
        refused.reasons[0].sentence
    )


def place_and_enter(world: World, ask: Ask) -> Placement | Refusal:
    """Place a class at minute 100, and let its firing draw on the feeder from then on."""
    answer = place(world, ask, 100)
    if isinstance(answer, Placement):
        held = answer.firings[0].held
        claim = Taken(
            apparatus_id=held.apparatus_id,
            place=1,
            span=held.exclusive,
            core=held.exclusive,
            held_by="another class",
            occupancy_id=held.apparatus_id,
        )
        world.enter(claim, held.draws)
    return answer


@pytest.mark.parametrize(
    ("kind", "minutes", "share"),
    [
        (Kind.TORCH, 179, 1.0),
        (Kind.TORCH, 180, 1.25),
        (Kind.KILN, 179, 1.0),
        (Kind.KILN, 180, 1.25),
        # Whoever comes next may keep these hot.
        (Kind.GLORY_HOLE, 60, 1.25),
        (Kind.PIPE_WARMER, 60, 1.25),
    ],
)
def test_three_hours_make_a_long_load(kind: Kind, minutes: int, share: float) -> None:
    assert counted(plugged_in(1, kind, 4.0), POWER, 4.0, minutes) == 4.0 * share


def test_gas_and_oxygen_have_no_breaker() -> None:
    assert counted(thing(1, Kind.KILN, (POWER, 4.0)), POWER, 4.0, 600) == 4.0


def test_a_torch_for_an_hour_takes_all_of_the_breaker_and_for_three_80_percent() -> None:
    lamp = plugged_in(1, Kind.TORCH, 4.0)
    world = world_of([lamp], supplies=[feeder(4.0)])
    hour, three = an_hour((Kind.TORCH, 1)), replace(an_hour((Kind.TORCH, 1)), teach_min=180)

    assert isinstance(place(world, hour, 100), Placement)
    assert isinstance(place(world, three, 100), Refusal)


@pytest.mark.parametrize("kw", [3.9, 4.0, 4.9, 5.0])
def test_an_electric_glory_hole_is_a_long_load_whoever_comes_next(kw: float) -> None:
    hole = plugged_in(1, Kind.GLORY_HOLE, 4.0, bodies=((0, HOLES[0]),), working_c=1100.0)
    world = world_of([hole], supplies=[feeder(kw)])

    space, judged = both_find(world, an_hour((Kind.GLORY_HOLE, 1)))

    assert space == judged
    assert bool(space) == (kw >= 5.0)
