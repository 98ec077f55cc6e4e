"""Loads over several nights, counted out by hand: two kilns, and hours in which somebody is there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.planner.answers import Late, Never, Plan, Reason, Why
from scheduling.engine.planner.loads import (
    Attended,
    Gap,
    KilnWay,
    LoadFiring,
    Question,
    StationTaken,
    SupplyLimit,
    Wish,
)
from scheduling.engine.planner.planning import plan
from scheduling.engine.planner.watched import Effort
from tests.benchmarks.fair import fair

HOUR = 60
DAY = 24 * HOUR
SMALL, LARGE = 1, 2
SAW = 7
POWER = 3
NINE_TO_FIVE = tuple((day * DAY + 9 * HOUR, day * DAY + 17 * HOUR) for day in range(8))


def at(day: int, hour: int, minute: int = 0) -> int:
    return day * DAY + hour * HOUR + minute


def fuse(kiln_id: int = SMALL, **changed: object) -> KilnWay:
    """Half an hour to load, sixteen hours until it is cool, ten of them heated, a quarter to unload."""
    way = KilnWay(
        kiln_id=kiln_id,
        starts=tuple((begin + 30, end + 1) for begin, end in NINE_TO_FIVE),
        prepare_min=30,
        tail_min=16 * HOUR,
        switching_min=10 * HOUR,
        clear_min=15,
        unload_staffed=NINE_TO_FIVE,
        draws=((POWER, 6.0),),
        cost=4.0,
    )
    return replace(way, **changed)  # type: ignore[arg-type]


def load(key: str, *ways: KilnWay) -> LoadFiring:
    return LoadFiring(key=key, ways=ways or (fuse(),))


def question(*firings: LoadFiring, **more: object) -> Question:
    return replace(Question(firings=firings, arrives=at(0, 8)), **more)  # type: ignore[arg-type]


def planned(asked: Question, effort: Effort | None = None) -> Plan:
    answer = plan(asked, effort=effort)
    assert isinstance(answer, Plan)
    return answer


def test_a_load_is_unloaded_when_somebody_comes_after_it_has_cooled() -> None:
    asked = question(load("dishes"))

    (fired,) = planned(asked).firings

    assert (fired.loading, fired.start) == (at(0, 9), at(0, 9, 30))
    assert fired.cool == at(1, 1, 30)
    assert (fired.unload, fired.done) == (at(1, 9), at(1, 9, 15))


def test_no_loads_are_ready_as_they_arrive() -> None:
    answer = planned(question())

    assert (answer.firings, answer.finish, answer.visits) == ((), at(0, 8), ())


def test_what_cools_while_somebody_is_there_is_unloaded_at_once() -> None:
    asked = question(load("dishes", fuse(tail_min=6 * HOUR)))

    (fired,) = planned(asked).firings

    assert fired.cool == fired.unload == at(0, 15, 30)


def test_a_kiln_waits_for_its_unloading_before_it_is_loaded_again() -> None:
    asked = question(load("first"), load("second"))

    answer = planned(asked)

    first, second = answer.firings
    assert second.loading == first.done == at(1, 9, 15)
    assert answer.finish == at(2, 9, 15)


def test_two_kilns_take_two_loads_in_one_night_where_the_supply_carries_both() -> None:
    both = (fuse(SMALL), fuse(LARGE))
    asked = question(load("first", *both), load("second", *both))

    carried = planned(replace(asked, supplies=(SupplyLimit(id=POWER, limit=12.0),)))
    one_at_a_time = planned(replace(asked, supplies=(SupplyLimit(id=POWER, limit=11.9),)))

    assert carried.finish == at(1, 9, 15)
    assert one_at_a_time.finish == at(2, 9, 15)


def test_what_is_drawn_already_is_left_to_those_who_draw_it() -> None:
    booked = ((at(0, 8), at(0, 16)), 3.0)
    asked = question(load("dishes"), supplies=(SupplyLimit(id=POWER, limit=8.0, drawn=(booked,)),))

    (fired,) = planned(asked).firings

    assert fired.start == at(0, 16)


def test_a_second_firing_waits_for_what_is_done_at_the_saw_between_them() -> None:
    asked = question(
        load("fused"),
        load("slumped", fuse(tail_min=12 * HOUR)),
        attended=(Attended(key="ground", minutes=2 * HOUR, starts=NINE_TO_FIVE, stations=(SAW,)),),
        gaps=(Gap(before="fused", after="ground"), Gap(before="ground", after="slumped", least_min=HOUR)),
        stations=(StationTaken(id=SAW, taken=((at(1, 9), at(1, 12)),)),),
    )

    answer = planned(asked)

    (ground,) = answer.steps
    assert (ground.station_id, ground.start, ground.end) == (SAW, at(1, 12), at(1, 14))
    assert answer.firings[1].loading == at(1, 15)
    assert answer.finish == at(2, 9, 15)


def test_glue_that_keeps_only_so_long_puts_off_what_comes_before_it() -> None:
    """The kiln is free on the third day only; what was glued the morning before would not hold."""
    asked = question(
        load("fired", fuse(starts=((at(3, 9, 30), at(3, 17, 1)),))),
        attended=(Attended(key="glued", minutes=HOUR, starts=NINE_TO_FIVE),),
        gaps=(Gap(before="glued", after="fired", least_min=HOUR, greatest_min=20 * HOUR),),
    )

    answer = planned(asked)

    assert answer.steps[0].end == at(2, 13)
    assert answer.firings[0].loading == at(3, 9)


def test_the_cheapest_waits_for_the_kiln_that_costs_less() -> None:
    both = (fuse(SMALL, cost=4.0), fuse(LARGE, cost=9.0))
    asked = question(load("first", *both), load("second", *both))

    earliest, cheapest = planned(asked), planned(replace(asked, aim=Wish.CHEAPEST))

    assert (earliest.finish, earliest.cost) == (at(1, 9, 15), 13.0)
    assert (cheapest.finish, cheapest.cost) == (at(2, 9, 15), 8.0)


def test_who_wants_to_come_seldom_fires_both_in_the_night_that_one_has_to_wait_for() -> None:
    only_on_the_third_day = fuse(LARGE, starts=((at(2, 9, 30), at(2, 17, 1)),))
    asked = question(load("first", fuse(SMALL)), load("second", only_on_the_third_day))

    earliest, fewest = planned(asked), planned(replace(asked, aim=Wish.FEWEST_VISITS))

    assert [day // DAY for _, (day, _) in earliest.visits] == [0, 1, 2, 3]
    assert [day // DAY for _, (day, _) in fewest.visits] == [2, 3]
    assert (fewest.finish, fewest.proven, fewest.bound) == (earliest.finish, True, 2)


def test_what_a_first_guess_cannot_better_needs_no_search() -> None:
    both = (fuse(SMALL), fuse(LARGE))
    asked = question(load("first", *both), load("second", *both))

    for wish in Wish:
        answer = planned(replace(asked, aim=wish), Effort(seconds=0.0))

        assert (answer.proven, answer.gap) == (True, 0.0)
        assert len(answer.visits) == 2


def test_a_first_guess_on_few_days_strikes_those_that_are_not_needed() -> None:
    only_on_the_third_day = fuse(LARGE, starts=((at(2, 9, 30), at(2, 17, 1)),))
    asked = question(load("first", fuse(SMALL)), load("second", only_on_the_third_day))

    answer = planned(replace(asked, aim=Wish.FEWEST_VISITS), Effort(seconds=0.0))

    assert [day // DAY for _, (day, _) in answer.visits] == [2, 3]


def test_a_date_that_cannot_be_kept_is_answered_with_the_earliest_that_can() -> None:
    asked = question(load("first"), load("second"), due=at(2, 9))

    answer = plan(asked)

    assert isinstance(answer, Late)
    assert (answer.due, answer.earliest.finish, answer.proven) == (at(2, 9), at(2, 9, 15), True)


def test_alike_loads_are_taken_in_the_order_given() -> None:
    asked = question(*(load(key) for key in "abc"))

    answer = planned(asked)

    assert [fired.key for fired in sorted(answer.firings, key=lambda each: each.start)] == ["a", "b", "c"]


def test_the_same_question_has_the_same_answer() -> None:
    both = (fuse(SMALL), fuse(LARGE))
    asked = question(*(load(key, *both) for key in "abcde"), supplies=(SupplyLimit(id=POWER, limit=12.0),))

    assert plan(asked) == plan(asked)


def test_a_search_that_is_cut_short_by_its_work_has_the_same_answer_again() -> None:
    """Not by the clock: then it would depend on what else the machine does."""
    asked, little = fair(Wish.FEWEST_VISITS, pairs=8), Effort(seconds=600.0, work=0.2)

    answer = planned(asked, little)

    assert not answer.settled
    assert plan(asked, effort=little) == answer


WHY_NOT = {
    "no kiln takes it": (question(LoadFiring(key="a", ways=())), Reason(why=Why.NO_KILN, of=("a",))),
    "nobody is ever there to unload": (
        question(load("a", fuse(unload_staffed=()))),
        Reason(why=Why.NO_TIME, of=("a",)),
    ),
    "it draws more than there is": (
        question(load("a"), supplies=(SupplyLimit(id=POWER, limit=5.9),)),
        Reason(why=Why.NO_TIME, of=("a",)),
    ),
    "the second is to follow while the first still cools": (
        question(load("a"), load("b", fuse(LARGE)), gaps=(Gap(before="a", after="b", greatest_min=-60),)),
        Reason(why=Why.GAP, of=("a", "b")),
    ),
    "one kiln has one night": (
        question(*(load(key, fuse(starts=((at(0, 10), at(0, 12)),))) for key in "ab")),
        Reason(why=Why.KILNS, of=(SMALL,)),
    ),
    "the supply carries one kiln a night": (
        question(
            load("a", fuse(SMALL, starts=((at(0, 10), at(0, 12)),))),
            load("b", fuse(LARGE, starts=((at(0, 10), at(0, 12)),))),
            supplies=(SupplyLimit(id=POWER, limit=8.0),),
        ),
        Reason(why=Why.SUPPLY, of=(POWER,)),
    ),
    "one saw for two at a time": (
        question(
            attended=tuple(
                Attended(key=key, minutes=60, starts=((at(0, 9), at(0, 9, 30)),), stations=(SAW,))
                for key in "ab"
            )
        ),
        Reason(why=Why.STATIONS, of=(SAW,)),
    ),
}


@pytest.mark.parametrize("case", WHY_NOT)
def test_where_there_is_no_plan_it_is_said_why(case: str) -> None:
    asked, reason = WHY_NOT[case]

    answer = plan(asked)

    assert isinstance(answer, Never)
    assert reason in answer.reasons


def test_what_is_sought_is_told_as_it_gets_better() -> None:
    both = (fuse(SMALL), fuse(LARGE, tail_min=17 * HOUR))
    asked = question(*(load(key, *both) for key in "abcdef"))
    heard: list[tuple[float, float]] = []

    answer = plan(asked, on_better=lambda value, bound, _: heard.append((value, bound)))

    assert isinstance(answer, Plan)
    assert heard[-1][0] == answer.finish
    assert heard[-1][1] == answer.bound
    values, bounds = [value for value, _ in heard], [bound for _, bound in heard]
    assert values == sorted(values, reverse=True)
    assert bounds == sorted(bounds)


def test_whoever_stops_the_search_gets_the_best_so_far() -> None:
    both = (fuse(SMALL), fuse(LARGE))
    asked = question(*(load(key, *both) for key in "abcdef"), supplies=(SupplyLimit(id=POWER, limit=6.0),))

    answer = plan(asked, stop=lambda: True, effort=Effort(seconds=600.0))

    assert isinstance(answer, Plan)
    assert answer.bound <= answer.finish
