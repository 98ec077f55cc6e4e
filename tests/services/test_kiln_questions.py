"""What the engine is asked for a kiln job: its rows as they stand, and if it were otherwise."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.errors import InvalidInput
from scheduling.models import KilnAnswer, KilnJob, PieceState
from scheduling.selectors.kiln_work import asked_of
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.outages import enter_outage
from studios.models import Equipment, Mould, Studio
from tests.invariants import broken
from tests.services.kiln_work import a_job, answered, second_kiln
from tests.worlds import Town, add_equipment, local

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


def asked(job: KilnJob, **what_if: Any) -> WorkAsked:
    return asked_of(job, what_if)[1]


def found(job: KilnJob, **what_if: Any) -> WorkPlanned:
    plan = answer(*asked_of(job, what_if))
    assert isinstance(plan, WorkPlanned), plan
    return plan


def refused(job: KilnJob, **what_if: Any) -> WorkRefused:
    plan = answer(*asked_of(job, what_if))
    assert isinstance(plan, WorkRefused), plan
    return plan


def test_the_rows_as_the_engine_has_them(town: Town, kiln: Equipment) -> None:
    town.flame.price_per_kwh = "0.25"
    town.flame.save()
    kiln.hour_price, kiln.shelf_wash_price = 2, 3
    kiln.save()
    job = a_job(town, due_at=local(9, 18), cold_min_each=5, aim="cheapest")

    question = asked(job)

    assert [piece.footprint.round for piece in question.pieces] == [False] * 4 + [True] * 2
    assert question.pieces[0].footprint.length_mm == 150
    assert (question.arrives, question.due) == (ceil_minutes(local(1, 9)), floor_minutes(local(9, 18)))
    assert (question.aim, question.cold_min_each) == (Aim.CHEAPEST, 5)
    (shelves,) = question.kilns
    assert (shelves.kiln_id, shelves.levels) == (kiln.pk, 2)
    assert (shelves.shelf.length_mm, shelves.shelf.width_mm) == (600, 500)
    assert (shelves.kwh_price, shelves.hour_price, shelves.shelf_wash_price) == (0.25, 2.0, 3.0)


def test_what_is_heated_by_gas_costs_what_gas_costs(town: Town, kiln: Equipment) -> None:
    Studio.objects.filter(pk=town.flame.pk).update(gas_price_per_kwh="0.09")
    Equipment.objects.filter(pk=kiln.pk).update(gas_fired=True)

    (shelves,) = asked(a_job(town)).kilns

    assert shelves.kwh_price == 0.09


def test_it_is_planned_and_booked_as_it_was_found(town: Town, kiln: Equipment) -> None:
    job = a_job(town, cold_min_each=10)

    plan = found(job)
    book(actor=town.instructor, answer=answered(job, plan))

    (load,) = job.loads.all()
    assert floor_minutes(load.firing.unload_at) == plan.loads[0].unload
    assert load.stands.count() == 6
    assert {step.does for step in job.steps.all()} == {"wash-shelves", "cold-work"}
    assert ceil_minutes(job.ready_at or local(0, 9)) == plan.ready


@pytest.mark.parametrize("aim", list(Aim))
def test_two_firings_in_two_kilns_with_few_moulds_are_booked_as_they_were_found(
    town: Town, kiln: Equipment, aim: Aim
) -> None:
    second_kiln(town)
    bowl = Mould.objects.create(studio=town.flame, name="bowl", count=2, length_mm=260, width_mm=260)
    sizes = [SizeAsked(count=5, length_mm=240, width_mm=240, mould=bowl)]
    job = a_job(town, route="fuse-slump", sizes=sizes, cold_min_each=10, aim=aim.value)

    plan = found(job)
    book(actor=town.instructor, answer=answered(job, plan))

    assert job.loads.count() == len(plan.loads) >= 4
    assert job.steps.count() == len(plan.handwork)
    assert not broken()


def test_what_is_booked_meanwhile_makes_it_later(town: Town, kiln: Equipment) -> None:
    first, second = a_job(town), a_job(town, title="Others")
    plan = found(first)
    book(actor=town.instructor, answer=answered(first, plan))

    later = found(second)

    assert later.loads[0].begins >= plan.loads[0].done


def test_moulds_that_another_job_has_in_a_kiln_are_waited_for(town: Town, kiln: Equipment) -> None:
    second_kiln(town)
    bowl = Mould.objects.create(studio=town.flame, name="bowl", count=3, length_mm=160, width_mm=160)
    sizes = [SizeAsked(count=2, length_mm=150, width_mm=150, mould=bowl)]
    first, second = (a_job(town, title=title, route="cast", sizes=sizes) for title in ("One", "Other"))
    one = found(first)
    alone = found(second)
    book(actor=town.instructor, answer=answered(first, one))

    other = found(second)
    book(actor=town.instructor, answer=answered(second, other))

    assert alone.loads[0].begins < one.loads[0].done
    assert other.loads[0].begins >= one.loads[0].done
    assert not broken()


def test_pieces_that_are_lost_are_not_fired(town: Town, kiln: Equipment) -> None:
    job = a_job(town)
    job.pieces.filter(number__in=(1, 6)).update(state=PieceState.LOST)

    assert [piece.footprint.round for piece in asked(job).pieces] == [False, False, False, True]


def test_moulds_are_those_of_the_pieces_as_long_as_they_are_in_service(town: Town, kiln: Equipment) -> None:
    bowl = Mould.objects.create(studio=town.flame, name="bowl", count=2, holds=1, length_mm=160, width_mm=160)
    job = a_job(town, route="fuse-slump", sizes=[SizeAsked(count=3, length_mm=150, width_mm=150, mould=bowl)])

    fit = asked(job).pieces[0].mould
    assert fit is not None
    assert (fit.id, fit.count, fit.holds, fit.footprint.length_mm) == (bowl.pk, 2, 1, 160)
    assert len([load for load in found(job).loads if load.step == 2]) == 2

    Mould.objects.update(active=False)

    assert refused(job).code == "mould-empty"


def test_what_sinks_into_moulds_is_fired_where_they_are(town: Town, kiln: Equipment) -> None:
    bowl = Mould.objects.create(studio=town.flame, name="bowl", length_mm=160, width_mm=160)
    facts = {"shelf_length_mm": 900, "shelf_width_mm": 900, "capacity_cm2": 8000}
    add_equipment(town, town.hot_shop, "kiln", "other kiln", **facts)
    sizes = [SizeAsked(count=1, length_mm=150, width_mm=150, mould=bowl)]
    studios = [town.flame, town.hot_shop]

    sizes.append(SizeAsked(count=1, length_mm=150, width_mm=150))
    slumped = a_job(town, sizes=sizes, studios=studios, route="fuse-slump")
    fused = a_job(town, sizes=sizes, studios=studios, route="fuse")

    assert [each.studio_id for each in asked(slumped).pieces] == [town.flame.pk, None]
    assert [each.studio_id for each in asked(slumped, more_pieces=1).pieces] == [
        town.flame.pk,
        None,
        town.flame.pk,
    ]
    assert [each.studio_id for each in asked(fused).pieces] == [None, None]
    assert len(asked(slumped).kilns) == 2


def test_a_kiln_without_measured_shelves_is_named(town: Town) -> None:
    assert "kiln: nobody has entered how large its shelves are" in refused(a_job(town)).sentence


def test_an_outage_is_planned_around(town: Town, kiln: Equipment) -> None:
    job = a_job(town)
    before = found(job)
    enter_outage(
        actor=town.technician,
        equipment=kiln,
        starts_at=local(1, 8),
        ends_at=local(4, 8),
        reason="new elements",
    )

    assert found(job).ready > before.ready
    assert found(job).loads[0].begins >= ceil_minutes(local(4, 8))


@pytest.mark.usefixtures("kiln")
class TestOtherwise:
    def test_a_kiln_down(self, town: Town, kiln: Equipment) -> None:
        other = second_kiln(town)
        job = a_job(town)

        assert {each.kiln_id for each in asked(job).kilns} == {kiln.pk, other.pk}
        assert {load.kiln_id for load in found(job, without_kilns=[str(kiln.uid)]).loads} == {other.pk}

    def test_all_of_them_down(self, town: Town, kiln: Equipment) -> None:
        assert refused(a_job(town), without_kilns=[str(kiln.uid)]).code == "no-kiln"

    def test_more_people_bring_more_of_the_same_mix(self, town: Town) -> None:
        question = asked(a_job(town), more_pieces=3)

        assert len(question.pieces) == 9
        assert sorted(piece.footprint.round for piece in question.pieces[6:]) == [False, False, True]

    def test_thicker_glass_takes_longer(self, town: Town) -> None:
        job = a_job(town)

        assert found(job, thickness_mm=19).loads[0].cool > found(job).loads[0].cool

    def test_other_days(self, town: Town) -> None:
        question = asked(a_job(town), arrives_at="2031-03-06T10:00-06:00", due_at=local(20, 9).isoformat())

        assert question.arrives == ceil_minutes(local(3, 10))
        assert question.due == floor_minutes(local(20, 9))

    def test_another_aim_or_studio(self, town: Town) -> None:
        question = asked(a_job(town), aim="fewest-visits", studios=["hot-shop"])

        assert question.aim is Aim.FEWEST_VISITS
        assert question.kilns == ()

    @pytest.mark.parametrize(
        ("what_if", "field"),
        [
            ({"aim": "soonest"}, "aim"),
            ({"studios": ["nowhere"]}, "studios"),
            ({"studios": "flame"}, "studios"),
            ({"thickness_mm": "thick"}, "thickness_mm"),
            ({"thickness_mm": "nan"}, "thickness_mm"),
            ({"more_pieces": 2.5}, "more_pieces"),
            ({"more_pieces": -1}, "more_pieces"),
            ({"more_pieces": 501}, "more_pieces"),
            ({"without_kilns": ["kiln"]}, "without_kilns"),
            ({"due_at": "next week"}, "due_at"),
            ({"due_at": "2031-13-45T10:00Z"}, "due_at"),
            ({"arrives_at": "2031-03-06T10:00"}, "arrives_at"),
        ],
    )
    def test_what_cannot_be_read_is_named(self, town: Town, what_if: Mapping[str, Any], field: str) -> None:
        with pytest.raises(InvalidInput) as refusal:
            asked_of(a_job(town), what_if)

        assert refusal.value.facts["field"] == field


def test_it_is_looked_for_until_it_is_due_and_six_weeks_at_least(town: Town, kiln: Equipment) -> None:
    soon, late = asked_of(a_job(town))[0], asked_of(a_job(town, due_at=local(80, 9)))[0]

    assert soon.horizon[1] == ceil_minutes(local(1, 9) + dt.timedelta(weeks=6))
    assert late.horizon[1] == ceil_minutes(local(80, 9))


def test_more_pieces_and_kilns_take_no_more_queries(
    town: Town, kiln: Equipment, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    small = KilnJob.objects.get(pk=a_job(town).pk)
    queries = _counted(small)
    second_kiln(town)
    sizes = [SizeAsked(count=30, length_mm=100, width_mm=100 + nth) for nth in range(5)]
    large = KilnJob.objects.get(pk=a_job(town, sizes=sizes).pk)

    with django_assert_num_queries(queries):
        asked_of(large)
    assert not KilnAnswer.objects.exists()


def _counted(job: KilnJob) -> int:
    with CaptureQueriesContext(connection) as made:
        asked_of(job)
    return len(made)
