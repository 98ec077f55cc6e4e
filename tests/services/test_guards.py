"""The database refuses overlaps by itself, whoever writes, after all migrations have run."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import IntegrityError, connection, transaction

from scheduling import guards
from scheduling.models import Booking, Occupancy, PersonSpan
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)


def occupy(town: Town, equipment: str, begin: dt.datetime, place: int = 1) -> Occupancy:
    """Write an hour's occupancy behind the back of every service."""
    return Occupancy.objects.create(
        equipment=town.equipment[equipment],
        place=place,
        booking=Booking.objects.create(studio=town.hot_shop, booked_by=town.instructor),
        starts_at=begin,
        ends_at=begin + HOUR,
        exclusive_from=begin,
        exclusive_to=begin + HOUR,
    )


def test_every_guard_stands_after_the_migrations() -> None:
    assert guards.missing() == []
    guards.require()


def test_triggers_are_out_of_the_way_of_a_migration_and_back_after_it() -> None:
    guards.step_aside(plan=[])
    assert guards.missing() == []

    guards.step_aside(plan=["a migration"])
    stood_aside = bool(guards.missing())
    guards.install()

    assert stood_aside is (connection.vendor == "sqlite")
    assert guards.missing() == []


def test_overlapping_exclusive_spans_are_refused_on_insert_and_on_update(town: Town) -> None:
    occupy(town, "furnace", local(1, 18))
    later = occupy(town, "furnace", local(1, 19))

    with pytest.raises(IntegrityError, match="lehrbook_equipment_once"), transaction.atomic():
        occupy(town, "furnace", local(1, 18, 59))
    later.exclusive_from = later.starts_at = local(1, 18, 59)
    with pytest.raises(IntegrityError, match="lehrbook_equipment_once"), transaction.atomic():
        later.save()


def test_spans_that_touch_and_other_places_are_accepted(town: Town) -> None:
    occupy(town, "furnace", local(1, 18))
    occupy(town, "furnace", local(1, 19))
    occupy(town, "furnace", local(1, 18), place=2)

    assert Occupancy.objects.count() == 3


def test_one_persons_spans_never_overlap(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    span = {"person": town.instructor, "studio": town.flame, "session": session}

    with pytest.raises(IntegrityError, match="lehrbook_person_once"), transaction.atomic():
        PersonSpan.objects.create(**span, starts_at=local(1, 20), ends_at=local(1, 22))
    PersonSpan.objects.create(**span, starts_at=local(1, 21), ends_at=local(1, 22))


def test_nothing_serves_without_the_guards(town: Town) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DROP TRIGGER lehrbook_person_once_on_update")
        else:
            cursor.execute("ALTER TABLE scheduling_personspan DROP CONSTRAINT lehrbook_person_once")

    with pytest.raises(ImproperlyConfigured, match="lacks its guards against overlaps"):
        guards.require()
    guards.install()
    guards.require()
