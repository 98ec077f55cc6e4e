"""Cylinders, tanks and pots: what is left until the next refill, change-overs, and when a charge fits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.charges import charge_held, charge_starts, propose_charge
from scheduling.engine.records import EVER, Kind, Placement, Reason, Refusal, Store, Taken, Use
from scheduling.engine.search import place
from scheduling.engine.startspace.space import start_space
from scheduling.engine.stores import run_dry, unneeded
from scheduling.engine.world import World
from tests.engine.test_search import HORIZON, ask, small_world

ONE_TORCH_L = 6 * 95  # 6 L/min for 90 minutes and 5 of purging
TORCH = ask(stations=((Kind.TORCH, 1),), firings=(), person_id=None, only=frozenset({4}))
FURNACE = ask(stations=((Kind.FURNACE, 1),), firings=(), person_id=None, glass_kg=12.0)


def cylinders(full: float, *refills: tuple[int, float], uses: tuple[Use, ...] = (), **facts: bool) -> Store:
    """Oxygen with its refills; full from the first minute where none is given."""
    return Store(
        name="oxygen",
        unit="L",
        full=full,
        floor=0.0,
        per_min=1.0,
        refills=refills or ((0, full),),
        uses=uses,
        **facts,
    )


def torches(store: Store, **facts: object) -> World:
    """A world whose oxygen is kept in cylinders."""
    return small_world(stores={1: store}, oxygen=store.uses, **facts)  # type: ignore[arg-type]  # as given


def only_reason(answer: Placement | Refusal) -> Reason:
    assert isinstance(answer, Refusal)
    return answer.reasons[0]


def used(*span: int, rate: float = 1.0) -> Use:
    return Use(span=(span[0], span[1]), amount=rate, held_by="other")


def test_just_enough_is_enough_and_a_litre_less_is_not() -> None:
    for full, starts in ((ONE_TORCH_L, ((5, 500),)), (ONE_TORCH_L - 1, ())):
        assert start_space(torches(cylinders(full)), TORCH, 0, 500) == starts


def test_what_is_booked_later_in_the_period_is_kept_for_it() -> None:
    later = used(1000, 1010)
    world = torches(cylinders(ONE_TORCH_L + 9, (0, ONE_TORCH_L + 9), (1200, 5000), uses=(later,)))

    assert only_reason(place(world, TORCH, 100)).sentence == (
        "oxygen has 569 L left for this until it is refilled at Thu 1 Jan 20:00, and this takes 570 L; "
        "have a delivery recorded before it."
    )
    assert start_space(world, TORCH, 0, HORIZON)[0][0] == 1111  # its last minute is after the delivery


def test_a_draw_across_a_delivery_takes_from_both_sides_of_it() -> None:
    world = torches(cylinders(300, (0, 300), (700, 300)))  # 50 minutes of one torch on either side

    # No more than 50 minutes of it before the delivery, the 5 of purging included, and no more than 50 after.
    assert start_space(world, TORCH, 0, HORIZON) == ((655, 661),)


@pytest.mark.parametrize(
    ("staffed", "start", "due"),
    [
        (((0, HORIZON),), 800, 795),  # as the purging begins
        (((0, 640), (790, HORIZON)), 794, 639),  # the last minute before it in which somebody is there
    ],
)
def test_a_change_over_is_made_while_somebody_is_there_and_nothing_is_drawn(
    staffed: tuple[tuple[int, int], ...], start: int, due: int
) -> None:
    store = cylinders(ONE_TORCH_L, uses=(used(100, 200),), change_over=True)

    answer = place(torches(store, staffed=staffed), TORCH, start)

    assert isinstance(answer, Placement)
    assert [change.at for change in answer.change_overs] == [due]
    assert "oxygen has to be changed over by" in answer.notes[0]


def test_nothing_is_changed_over_while_others_draw() -> None:
    drawing = used(750, 1000, rate=0.1)
    store = cylinders(ONE_TORCH_L + 26, uses=(used(100, 200), drawing), change_over=True)

    answer = place(torches(store), TORCH, 850)

    assert isinstance(answer, Placement)
    assert [change.at for change in answer.change_overs] == [749]


def test_a_change_over_that_the_store_would_do_without_is_not_needed() -> None:
    store = cylinders(100, (0, 100), (50, 100), (500, 100), uses=(used(10, 60), used(600, 650)))

    assert unneeded(store, [50, 500]) == [50, 500]
    assert unneeded(replace(store, uses=(*store.uses, used(700, 701))), [50, 500]) == [50]


def pot(level: float, *uses: Use) -> Store:
    """A pot of 40 kg that keeps 10, with a level since the first minute."""
    return Store(name="pot", unit="kg", full=40.0, floor=10.0, per_min=1.0, refills=((0, level),), uses=uses)


def test_a_session_below_the_floor_is_told_of_the_first_charge_that_fits_before_it() -> None:
    world = small_world(pot=pot(20.0), now=30)

    reason = only_reason(place(world, FURNACE, 600))

    assert reason.code == "pot-below-floor"
    assert reason.sentence == (
        "furnace 1: the pot would hold 8 kg, its floor is 10 kg; a charge fits from Thu 1 Jan 00:30 to 02:10."
    )


def test_a_charge_needs_all_places_free_and_somebody_at_each_charge() -> None:
    taken = Taken(apparatus_id=1, place=2, span=(300, 400), core=(300, 400), held_by="a class")
    world = small_world(pot=pot(20.0), taken=(taken,), staffed=((0, 150), (500, 520), (530, 545)))

    # Charged from the 10th to the 20th minute and from the 40th to the 50th; 100 minutes in all.
    assert charge_starts(world, 1, 0, 1000) == ((0, 101), (490, 496))
    assert propose_charge(world, 1, since=120) == (490, 590)


def test_a_charge_need_only_last_until_the_next_one() -> None:
    store = replace(
        pot(20.0, used(600, 601, rate=25.0), used(2000, 2001, rate=25.0)), refills=((0, 20.0), (1500, 40.0))
    )

    assert propose_charge(small_world(pot=store), 1, kg=5.0) == (0, 100)
    assert only_reason_of(propose_charge(small_world(pot=store), 1, kg=6.0, ends_by=600)) == "pot-too-small"


def test_what_runs_dry_is_what_finds_too_little_and_is_not_over() -> None:
    first, second, third = used(10, 60), used(70, 90), used(200, 230)
    store = cylinders(60, (0, 60), (150, 60), uses=(first, second, third))

    assert run_dry(store, 0) == [second]
    assert run_dry(store, 90) == []
    assert run_dry(replace(store, refills=((0, 60),)), 80) == [second, third]


def test_why_no_charge_fits() -> None:
    taken = tuple(
        Taken(apparatus_id=1, place=1, span=(day, day + 20), core=(day, day + 20), held_by="a class")
        for day in range(0, 3000, 60)
    )
    cases = {
        "furnace-taken": small_world(pot=pot(20.0), taken=taken),
        "charge-not-staffed": small_world(pot=pot(20.0), staffed=((0, 5),)),
        "pot-too-small": small_world(pot=pot(20.0, used(2990, 2991, rate=25.0))),
    }
    for code, world in cases.items():
        assert only_reason_of(propose_charge(world, 1, kg=6.0)) == code


def only_reason_of(found: tuple[int, int] | Refusal) -> str:
    assert isinstance(found, Refusal)
    return found.reasons[0].code


def test_the_temperature_of_a_charge_is_one_line_without_gaps() -> None:
    held = charge_held(small_world(pot=pot(20.0)), 1, 100)

    assert [part.place for part in held] == [1, 2]
    for part in held:
        edges = [edge for phase in part.phases for edge in phase.span]
        assert (edges[0], edges[-1]) == part.span == (100, 200)
        assert edges[1:-1:2] == edges[2::2]
        temps = [at_c for phase in part.phases for at_c in (phase.from_c, phase.to_c)]
        assert temps[1:-1:2] == temps[2::2]


def test_two_furnaces_lend_their_pots_place_by_place() -> None:
    world = small_world(pot=pot(20.0))
    other = replace(world.apparatus[1], id=11, number=2, name="furnace 11")
    both = replace(
        world,
        apparatus={**world.apparatus, 11: other},
        pots={1: world.pots[1], 11: replace(world.pots[1], store=pot(30.0))},
    )

    answer = place(both, FURNACE, 600)

    assert isinstance(answer, Placement)
    assert [(part.apparatus_id, part.glass_kg) for part in answer.held] == [(11, 12.0)]
    halves = replace(FURNACE, stations=((Kind.FURNACE, 2),), glass_kg=30.0)
    assert start_space(both, halves, 0, 700) == ()
    assert start_space(both, replace(halves, glass_kg=20.0), 0, 700) == ((0, 700),)


def test_nothing_is_known_before_the_first_refill() -> None:
    assert cylinders(10, (500, 10)).periods[0].span == (500, EVER)
    assert start_space(torches(cylinders(10, (500, 10))), TORCH, 0, 450) == ((5, 412),)
