"""Where lighting a hole again would cost more, it is kept hot from class to class; and what comes of that."""

from __future__ import annotations

import pytest

from scheduling.models import Occupancy, Session
from scheduling.services.cancelling import cancel_session
from studios.models import Equipment, Supply
from tests.invariants import broken
from tests.services.test_booking import book
from tests.services.test_heat import cold_lead, hole, lead_min
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def dear_to_light(town: Town) -> None:
    """One hole, and lighting it counts as much as hours of holding it: invented, to be seen."""
    town.equipment["hole 2"].delete()
    Equipment.objects.filter(name="hole 1").update(lighting_kwh=400)


def kinds(session: Session) -> list[str]:
    return list(hole(session).phases.values_list("kind", flat=True))


def two_classes(town: Town) -> tuple[Session, Session]:
    return book(town, "blowing", local(1, 10)), book(town, "blowing", local(1, 17), town.other_instructor)


def test_it_holds_from_the_end_of_one_class_to_the_next(town: Town) -> None:
    morning, evening = two_classes(town)

    assert hole(evening).exclusive_from == morning.ends_at
    assert kinds(evening)[:2] == ["holding", "working"]
    assert kinds(morning)[-1] == "working"
    assert hole(evening).supply_uses.get().starts_at == morning.ends_at
    bench = Occupancy.objects.get(booking=evening.booking, equipment__kind="bench")
    assert bench.starts_at == morning.ends_at
    assert broken() == []


def test_where_lighting_costs_nothing_it_cools(town: Town) -> None:
    Equipment.objects.filter(name="hole 1").update(lighting_kwh=0)

    morning, evening = two_classes(town)

    assert hole(evening).exclusive_from > morning.ends_at


def test_a_class_between_two_takes_over_its_part_of_the_hold(town: Town) -> None:
    morning, evening = two_classes(town)
    Supply.objects.filter(name="gas").update(limit=68)

    noon = book(town, "blowing", local(1, 13, 30))

    assert hole(noon).exclusive_from == morning.ends_at
    assert hole(evening).exclusive_from == noon.ends_at
    assert kinds(noon)[:2] == kinds(evening)[:2] == ["holding", "working"]
    assert broken() == []


def test_when_the_class_before_goes_the_hole_is_lit_from_cold(town: Town) -> None:
    morning, evening = two_classes(town)

    cancel_session(actor=town.instructor, session=morning)

    assert cold_lead() <= lead_min(evening) < cold_lead() + 1
    assert kinds(evening)[0] == "heat-up"
    assert broken() == []


def test_when_the_class_between_goes_nothing_is_held_for_longer_than_before(town: Town) -> None:
    """What it held is free, and may be sold: the evening's hole is heated again."""
    morning, evening = two_classes(town)
    noon = book(town, "blowing", local(1, 13, 30))

    cancel_session(actor=town.instructor, session=noon)

    assert hole(evening).exclusive_from > morning.ends_at
    assert kinds(evening)[0] == "heat-up"
    assert lead_min(evening) < cold_lead()
    assert broken() == []


def test_a_class_booked_before_one_that_is_heated_up_leaves_it_so(town: Town) -> None:
    evening = book(town, "blowing", local(1, 17), town.other_instructor)
    lit = hole(evening).exclusive_from

    book(town, "blowing", local(1, 10))

    assert lit <= hole(evening).exclusive_from
    assert kinds(evening)[0] == "heat-up"
