"""A kiln breaks, or is called off under a job: what has not begun is booked anew, all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.errors import NoStart, NotAllowed, Over
from scheduling.models import (
    BookingStatus,
    Firing,
    JobStep,
    KilnJob,
    Message,
    Occupancy,
    Outage,
    Stand,
)
from scheduling.selectors.broken import What, broken_by
from scheduling.services.kiln_replanning import replan
from scheduling.services.outages import enter_outage
from scheduling.services.repairing import broken_with_repairs
from studios.models import Equipment
from tests.invariants import broken
from tests.services.kiln_work import a_job, booked, by_hand, load_at, second_kiln, with_shelves
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


@pytest.fixture
def kiln(town: Town, clock: time_machine.Traveller) -> Equipment:
    return with_shelves(town)


def fused_and_slumped(town: Town, kiln: Equipment) -> KilnJob:
    """Six dishes: shelves are washed on Tuesday, they are fused that night and slumped from Saturday."""
    job = a_job(town, route="fuse-slump")
    fuse, slump = load_at(job, kiln, local(1, 18)), load_at(job, kiln, local(5, 18), step=2)
    wash = by_hand(fuse, Handwork.WASH_SHELVES, local(1, 9), 15)
    return booked(job, fuse, slump, actor=town.instructor, handwork=[wash])


def breaks(town: Town, kiln: Equipment, day: int, until: int) -> Outage:
    hours = {"starts_at": local(day, 8), "ends_at": local(until, 8)}
    return enter_outage(actor=town.technician, equipment=kiln, reason="element burnt out", **hours)


def test_what_an_outage_breaks_is_listed_with_its_job(town: Town, kiln: Equipment) -> None:
    job = fused_and_slumped(town, kiln)
    outage = breaks(town, kiln, 5, 9)

    (found,) = broken_by(outage)
    (with_repair,) = broken_with_repairs(actor=town.technician, outage=outage)

    assert (found.what, found.job, found.session) == (What.FIRING, job, None)
    assert found.title == "Firing of Fair dishes"
    assert with_repair.repair is not None
    assert "Plan what has not begun of Fair dishes anew" in with_repair.repair.sentence


def test_what_has_not_begun_goes_to_another_kiln_as_it_was_packed(
    town: Town, kiln: Equipment, clock: time_machine.Traveller
) -> None:
    other = second_kiln(town)
    job = fused_and_slumped(town, kiln)
    stood = list(
        Stand.objects.filter(load__job_step=2).order_by("piece").values_list("piece", "x_mm", "level")
    )
    clock.move_to(local(2, 9))
    breaks(town, kiln, 3, 30)

    replan(actor=town.instructor, job=job)

    fuse, slump = Firing.objects.filter(status=BookingStatus.BOOKED).order_by("last_in_at")
    assert (fuse.equipment, fuse.occupancy.starts_at) == (kiln, local(1, 18))
    assert slump.equipment == other
    assert slump.occupancy.starts_at >= fuse.occupancy.ends_at
    now = Stand.objects.filter(load__firing=slump).order_by("piece").values_list("piece", "x_mm", "level")
    assert list(now) == stood
    assert job.ready_at == slump.occupancy.ends_at
    assert Message.objects.filter(person=town.instructor, subject="Planned anew: Fair dishes").count() == 1
    assert broken() == []


def test_shelves_are_washed_anew_and_dry_before_loading(town: Town, kiln: Equipment) -> None:
    second_kiln(town)
    job = fused_and_slumped(town, kiln)
    breaks(town, kiln, 1, 3)

    replan(actor=town.instructor, job=job)

    fuse = job.loads.get(job_step=1).firing
    wash = JobStep.objects.get(does="wash-shelves")
    assert wash.ends_at + (local(1, 8) - local(1, 0)) <= fuse.occupancy.starts_at
    assert fuse.occupancy.starts_at >= job.arrives_at + (local(1, 12) - local(1, 0))
    assert job.loads.get(job_step=2).firing.occupancy.starts_at >= fuse.occupancy.ends_at
    assert broken() == []


def test_cold_work_between_two_firings_follows_them(town: Town, kiln: Equipment) -> None:
    job = a_job(town, route="fuse-slump", cold_min_each=15)
    fuse, slump = load_at(job, kiln, local(2, 18)), load_at(job, kiln, local(6, 18), step=2)
    cold = by_hand(fuse, Handwork.COLD_WORK, local(5, 10), 90, town.equipment["saw"])
    booked(job, fuse, slump, actor=town.instructor, handwork=[cold])
    breaks(town, kiln, 2, 8)

    replan(actor=town.instructor, job=job)

    step = JobStep.objects.get(does="cold-work")
    first, second = (job.loads.get(job_step=nth).firing.occupancy for nth in (1, 2))
    assert first.ends_at <= step.starts_at
    assert step.ends_at <= second.starts_at
    assert (step.ends_at - step.starts_at).total_seconds() == 90 * 60
    assert Occupancy.objects.filter(equipment=town.equipment["saw"]).count() == 1
    assert broken() == []


def test_where_nothing_fits_all_stays_as_it_was(town: Town, kiln: Equipment) -> None:
    job = fused_and_slumped(town, kiln)
    before = sorted(Occupancy.objects.values_list("equipment", "starts_at", "ends_at"))
    breaks(town, kiln, 1, 60)

    with pytest.raises(NoStart, match="no kiln at Flame"):
        replan(actor=town.instructor, job=job)

    assert sorted(Occupancy.objects.values_list("equipment", "starts_at", "ends_at")) == before
    assert JobStep.objects.count() == 1
    assert broken(supplies=False) == []


def test_who_books_kilns_plans_anew_and_only_what_has_not_begun(
    town: Town, kiln: Equipment, clock: time_machine.Traveller
) -> None:
    job = fused_and_slumped(town, kiln)

    with pytest.raises(NotAllowed):
        replan(actor=town.student, job=job)
    clock.move_to(local(6, 9))
    with pytest.raises(Over, match="nothing left"):
        replan(actor=town.instructor, job=job)
    with pytest.raises(Over, match="is not booked"):
        replan(actor=town.instructor, job=a_job(town))
