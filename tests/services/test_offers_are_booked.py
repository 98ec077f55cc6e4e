"""Whatever is offered can be booked: random searches in a world where nobody else books at the same time.

`OFFERS` asks for more searches than the suite makes.
"""

from __future__ import annotations

import datetime as dt
import os
import random

import pytest

from scheduling.engine.measures import Measure
from scheduling.models import Session
from scheduling.selectors.offers import best_starts
from scheduling.services.booking import book_session
from tests.invariants import broken
from tests.worlds import FIRST_MONDAY, Town

pytestmark = pytest.mark.django_db

SEARCHES = int(os.environ.get("OFFERS", "60"))
WEEKS = max(2, SEARCHES // 8)


def test_every_offer_is_booked_without_a_refusal(town: Town) -> None:
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

    assert booked > SEARCHES * 0.8
    assert Session.objects.count() == booked
    assert broken() == []
