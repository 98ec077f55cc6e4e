"""One evening class at a hot shop, the night before the clocks go forward, and the people around it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pytest

from scheduling.models import Firing, Session
from studios.models import Equipment, EquipmentKind, Person, Role, Studio
from tests.faces.feeds import node_readers, rows

CHICAGO = ZoneInfo("America/Chicago")
# Saturday 13 March 2027; the clocks go forward at 2 in the morning after.
EVENING = dt.datetime(2027, 3, 13, 18, 0, tzinfo=CHICAGO).astimezone(dt.UTC)


@dataclass(frozen=True, kw_only=True)
class Night:
    studio: Studio
    annealer: Equipment
    session: Session
    firing: Firing
    instructor: Person
    student: Person


@pytest.fixture(scope="session", autouse=True)
def nothing_left_running() -> Iterator[None]:
    yield
    node_readers.end_processes()


@pytest.fixture
def night(db: None) -> Night:
    """Class from 18:00 to 21:00, cool 12 hours after, opened 12 hours and 40 minutes after."""
    studio = rows.studio()
    instructor = rows.person("Vera", studio, Role.INSTRUCTOR)
    annealer = rows.equipment(studio, EquipmentKind.ANNEALER, "Annealer 1")
    session = rows.session(rows.course(), studio, instructor, EVENING)
    glory_hole = rows.equipment(studio, EquipmentKind.GLORY_HOLE, "Glory hole 1")
    rows.held(glory_hole, session, rows.HOUR, 2 * rows.HOUR)
    firing = rows.firing(annealer, session, cool=12 * rows.HOUR, unload=12 * rows.HOUR + 40 * rows.MINUTE)
    student = rows.person("Juni", studio)
    rows.seat(session, student)
    return Night(
        studio=studio,
        annealer=annealer,
        session=session,
        firing=firing,
        instructor=instructor,
        student=student,
    )
