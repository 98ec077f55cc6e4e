"""Whatever is offered can be booked: random searches in a world where nobody else books at the same time.

`OFFERS` asks for more searches than the suite makes.
"""

from __future__ import annotations

import datetime as dt
import os
import random

import pytest
from django.db.models import F

from scheduling.engine.measures import Measure
from scheduling.models import Firing, OccupancyPhase, Session
from scheduling.selectors.offers import best_starts
from scheduling.services.booking import book_session
from studios.models import Equipment, Supply
from tests.invariants import broken
from tests.services.test_assistants import an_instructor
from tests.services.test_rooms import a_room
from tests.worlds import FIRST_MONDAY, Town

pytestmark = pytest.mark.django_db

SEARCHES = int(os.environ.get("OFFERS", "60"))
WEEKS = max(2, SEARCHES // 8)


def test_every_offer_is_booked_without_a_refusal(town: Town) -> None:
    booked = searched_and_booked(town)

    assert booked > SEARCHES * 0.8
    assert Session.objects.count() == booked
    assert broken() == []


def test_nor_where_rooms_are_full_classes_assisted_and_over_early(town: Town) -> None:
    an_instructor(town, "Helper", town.hot_shop)
    town.courses["blowing"].assistants = town.courses["paperweights"].assistants = 1
    town.courses["blowing"].save()
    town.courses["paperweights"].save()
    a_room(town, "hall", 9, "furnace", "hole 1", "bench 1")
    a_room(town, "second hall", 9, "hole 2", "bench 2")
    a_room(town, "flame room", 9, "saw", *(torch.name for torch in town.torches))
    town.flame.latest_end = town.hot_shop.latest_end = dt.time(20, 30)
    town.flame.save()
    town.hot_shop.save()

    booked = searched_and_booked(town)

    assert booked > SEARCHES * 0.8
    assert broken() == []


def test_nor_where_kilns_wait_and_holes_are_kept_hot(town: Town) -> None:
    """The feeder carries the kiln or the annealer; lighting a hole again counts as hours of holding it."""
    Supply.objects.filter(name="kiln feeder").update(limit=8)
    Equipment.objects.filter(kind="kiln").update(longest_wait_min=20 * 60)
    Equipment.objects.filter(kind__in=["glory-hole", "pipe-warmer"]).update(lighting_kwh=300)

    booked = searched_and_booked(town)

    assert booked > SEARCHES * 0.8
    assert Firing.objects.filter(equipment__kind="kiln", at_hold_at__lt=F("last_in_at")).exists()
    assert OccupancyPhase.objects.filter(kind="holding", occupancy__equipment__kind="glory-hole").exists()
    assert broken() == []


def searched_and_booked(town: Town) -> int:
    """So many random searches, of each one offer booked if there is any; how many there were."""
    chance = random.Random(20310303)
    booked = 0
    for _ in range(SEARCHES):
        course = chance.choice(list(town.courses.values()))
        teacher = chance.choice([town.instructor, town.other_instructor])
        first_day = FIRST_MONDAY + dt.timedelta(days=chance.randrange(7 * WEEKS))

        found = best_starts(
            course=course,
            studios=list(course.studios.all()),
            instructor=teacher,
            first_day=first_day,
            last_day=first_day + dt.timedelta(days=chance.randrange(1, 5)),
            order=chance.choice(list(Measure)),
            time=dt.time(chance.randrange(24), chance.randrange(60)),
        )

        if found:
            offer = chance.choice(found).option
            session = book_session(
                actor=teacher,
                course=course,
                studio=offer.studio,
                instructor=teacher,
                starts_at=offer.starts_at,
            )
            held = set(session.booking.occupancies.values_list("equipment__name", flat=True))
            assert held <= {line.equipment.name for line in offer.held}
            booked += 1
    return booked
