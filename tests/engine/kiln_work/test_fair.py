"""The harvest fair: 28 square and 12 round dishes of three sizes, fused and then slumped, in three kilns."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, as_json, from_json
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.told import merit
from scheduling.engine.spans import covers
from scheduling.engine.world import World
from tests.engine.kiln_work.sound import assert_sound
from tests.engine.kiln_work.workshop import DAY, FIBRE, HOUR, KILNS, POWER, SHELVES, fair, kiln, taken, world


def planned(shop: World, asked: WorkAsked) -> WorkPlanned:
    found = answer(shop, asked)
    assert isinstance(found, WorkPlanned), found
    return found


@pytest.fixture(scope="module")
def plans() -> dict[Aim, WorkPlanned]:
    return {aim: planned(world(*KILNS), fair(aim=aim)) for aim in Aim}


@pytest.mark.parametrize("aim", Aim)
def test_it_is_sound(plans: dict[Aim, WorkPlanned], aim: Aim) -> None:
    assert_sound(world(*KILNS), fair(aim=aim), plans[aim])


@pytest.mark.parametrize("aim", Aim)
def test_each_aim_has_the_best_by_that_aim(plans: dict[Aim, WorkPlanned], aim: Aim) -> None:
    assert merit(plans[aim], aim)[0] == min(merit(plan, aim)[0] for plan in plans.values())


def test_it_is_ready_within_the_week_and_no_plan_is_before_the_bound(plans: dict[Aim, WorkPlanned]) -> None:
    plan = plans[Aim.EARLIEST]

    assert 4 * DAY < plan.bound <= plan.ready < 6 * DAY


def test_nothing_begins_before_what_is_glued_is_dry(plans: dict[Aim, WorkPlanned]) -> None:
    """It comes at 9 on the first day; twelve hours later nobody loads any more."""
    assert min(load.begins for load in plans[Aim.EARLIEST].loads) == DAY + 9 * HOUR


def test_visits_are_days_on_which_all_is_done(plans: dict[Aim, WorkPlanned]) -> None:
    for plan in plans.values():
        attended = [(load.begins, load.closed) for load in plan.loads]
        attended += [(load.unload, load.done) for load in plan.loads]
        attended += [work.span for work in plan.handwork]

        assert all(covers(plan.visits, *span) for span in attended)
        assert len({begin // DAY for begin, _ in plan.visits}) == len(plan.visits)


def test_the_same_question_has_the_same_answer(plans: dict[Aim, WorkPlanned]) -> None:
    assert planned(world(*KILNS), fair()) == plans[Aim.EARLIEST]


def test_it_is_kept_as_json(plans: dict[Aim, WorkPlanned]) -> None:
    for plan in plans.values():
        assert from_json(json.loads(json.dumps(as_json(plan)))) == plan


def test_each_better_plan_is_told_and_the_last_one_is_the_answer() -> None:
    heard: list[WorkPlanned] = []

    found = answer(world(*KILNS), fair(aim=Aim.FEWEST_VISITS), on_better=heard.append)

    merits = [merit(plan, Aim.FEWEST_VISITS) for plan in heard]
    assert merits == sorted(merits, reverse=True)
    assert len(merits) > 1
    assert heard[-1] == found


def test_stopped_it_answers_with_the_best_so_far() -> None:
    heard: list[WorkPlanned] = []

    found = answer(
        world(*KILNS), fair(aim=Aim.FEWEST_VISITS), on_better=heard.append, stop=lambda: bool(heard)
    )

    assert [found] == heard


def test_a_kiln_less_is_later_and_a_kiln_more_is_not() -> None:
    few = fair().pieces[::3]
    down = [taken(3, 0, 30 * DAY)]
    more = kiln(4, FIBRE, prepare_min=20, clear_min=15, capacity_cm2=900, draws=((POWER, 2.5),))

    as_it_is = planned(world(*KILNS), fair(pieces=few))
    fewer = planned(world(*KILNS, taken=down), fair(pieces=few))
    others = planned(world(*KILNS, more), fair(pieces=few, kilns=(*SHELVES, replace(SHELVES[0], kiln_id=4))))

    assert fewer.ready > as_it_is.ready >= others.ready
    assert {load.kiln_id for load in fewer.loads} == {1, 2}


def test_on_a_weak_feeder_the_big_kiln_is_hot_alone(plans: dict[Aim, WorkPlanned]) -> None:
    plan = planned(world(*KILNS, feeder=10.0), fair())

    assert_sound(world(*KILNS, feeder=10.0), fair(), plan)
    assert plan.ready > plans[Aim.EARLIEST].ready


def test_thicker_glass_takes_longer(plans: dict[Aim, WorkPlanned]) -> None:
    assert planned(world(*KILNS), fair(thickness_mm=12.0)).ready > plans[Aim.EARLIEST].ready
