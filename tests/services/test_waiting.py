"""A kiln that waits, as it is booked and as it stands in the book."""

from __future__ import annotations

from contextlib import nullcontext

import pytest
from django.core.exceptions import ValidationError

from scheduling.engine.clock import floor_minutes
from scheduling.errors import NoStart
from scheduling.models import Firing, Session
from scheduling.selectors.calibrations import Numbers, would_move
from scheduling.services.booking import book_session
from scheduling.services.cancelling import cancel_session
from scheduling.snapshot import horizon_around, load_world
from studios.models import Equipment, Supply
from tests.invariants import broken
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def book(town: Town, course: str, hour: int) -> Session:
    return book_session(
        actor=town.instructor,
        course=town.courses[course],
        studio=town.flame,
        instructor=town.instructor,
        starts_at=local(1, hour),
    )


@pytest.fixture
def waiting(town: Town) -> Firing:
    """The feeder carries the annealer of the beads or the kiln of the tiles, one after the other."""
    Supply.objects.filter(name="kiln feeder").update(limit=8)
    Equipment.objects.filter(name="kiln").update(longest_wait_min=20 * 60)
    book(town, "beads", 10)
    book(town, "tiles", 14)
    return Firing.objects.get(equipment__name="kiln")


def test_a_kiln_starts_by_itself_when_the_annealer_is_done(waiting: Firing) -> None:
    annealer = Firing.objects.get(equipment__name="small annealer")
    use = waiting.occupancy.supply_uses.get()
    done = annealer.occupancy.supply_uses.get().ends_at

    assert waiting.at_hold_at < waiting.last_in_at == use.starts_at == done
    kinds = list(waiting.occupancy.phases.values_list("kind", flat=True))
    assert kinds[:2] == ["loading", "waiting"]
    assert kinds[-1] == "unloading"
    assert broken() == []


def test_it_keeps_its_hours_whatever_goes_before_it(town: Town, waiting: Firing) -> None:
    before = (waiting.last_in_at, waiting.unload_at)
    cancel_session(actor=town.instructor, session=Session.objects.get(course__name="beads"))

    waiting.refresh_from_db()

    assert (waiting.last_in_at, waiting.unload_at) == before


def test_the_world_knows_the_wait_of_its_firing(town: Town, waiting: Firing) -> None:
    world = load_world([town.flame], horizon_around(local(1, 14)))

    claim = world.claims(waiting.equipment_id)[0]

    assert claim.firing is not None
    assert claim.firing.ready == floor_minutes(waiting.at_hold_at)
    assert claim.firing.last_in == floor_minutes(waiting.last_in_at)


def test_a_record_that_changes_nothing_moves_no_firing_that_waits(town: Town, waiting: Firing) -> None:
    record = waiting.equipment.thermal_records.get()
    same = Numbers(tau_h=record.tau_h, tau_low_h=record.tau_low_h, split_c=record.split_c, ceiling_c=None)

    moved = would_move(equipment=waiting.equipment, numbers=same, from_day=local(1, 14).date())

    assert moved == ()


@pytest.mark.parametrize(
    ("name", "field", "fits"),
    [
        ("kiln", "longest_wait_min", True),
        ("small annealer", "longest_wait_min", False),
        ("hole 1", "lighting_kwh", True),
        ("kiln", "lighting_kwh", False),
    ],
)
def test_only_a_kiln_waits_and_only_a_hot_station_is_lit(
    town: Town, name: str, field: str, fits: bool
) -> None:
    equipment = town.equipment[name]
    setattr(equipment, field, 30)

    with nullcontext() if fits else pytest.raises(ValidationError, match="Only a"):
        equipment.full_clean()


def test_without_a_wait_the_class_is_refused(town: Town) -> None:
    Supply.objects.filter(name="kiln feeder").update(limit=8)
    book(town, "beads", 10)

    with pytest.raises(NoStart, match="rated for 8 kW"):
        book(town, "tiles", 14)
