"""Tables that were made wrong, one promise at a time: whoever judges a load finds each of them."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections import defaultdict
from typing import Any

import pytest
import time_machine
from django.db import connection

from scheduling.models import Course, Firing, Message, Outage, RepeatedRequest, Session
from scheduling.services.actuals import record_actual, strike_actual
from scheduling.services.booking import book_session
from scheduling.services.cancelling import cancel_session
from scheduling.services.in_line import join_line, leave_line, take_offer
from scheduling.services.keeping import keep_seat, let_go
from scheduling.services.lapsing import lapse_kept
from scheduling.services.moving import move_session
from scheduling.services.outages import enter_outage
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from scheduling.services.series import book_series
from studios.models import Membership, Person, Studio, Supply
from tests.scenarios.hammer.clients import Asked, Entry, Journal
from tests.scenarios.hammer.faults import FAULTS, twice
from tests.scenarios.hammer.kiln_day import kiln_jobs
from tests.scenarios.hammer.promises import BROKEN, TOLD, WAITING
from tests.scenarios.hammer.truth import ROWS, Tables
from tests.worlds import Town, local, sign_off

pytestmark = pytest.mark.django_db

NOBODY = {"token": "", "key": "0"}
NOTHING_BEFORE: dict[str, set[str]] = defaultdict(set)


class Day:
    """What some people did, and what each was told."""

    def __init__(self, town: Town) -> None:
        self.town, self.journal = town, Journal()
        self.students = [self._student(town, number) for number in range(6)]

    def told(self, act: str, uid: Any, **more: Any) -> None:
        """An answer, as a client would have had it, and as it is kept for a repeat."""
        key = f"{act} {len(self.journal.entries)}"
        asked = Asked(act=act, person=NOBODY | {"key": str(self.town.student.pk)}, path="", body={}, key=key)
        RepeatedRequest.objects.create(person=self.town.student, key=key, digest="", status_code=200, body={})
        self.journal.entries.append(Entry(asked=asked, status=200, answer={"uid": str(uid), **more}))

    def _student(self, town: Town, number: int) -> Person:
        person = Person.objects.create(email=f"more{number}@town.example", name=f"More {number}")
        for studio in (town.hot_shop, town.flame):
            Membership.objects.create(person=person, studio=studio, role="student")
        sign_off(person, town.flame, ["torch"])
        return person

    def a_class(self, course: str, starts_at: dt.datetime) -> Session:
        """The instructor books one."""
        chosen, who = self.town.courses[course], self.town.instructor
        what: dict[str, Any] = {"course": chosen, "studio": chosen.studios.get(), "starts_at": starts_at}
        session = book_session(actor=who, instructor=who, **what)
        self.told("book", session.uid, starts_at=starts_at.isoformat())
        return session

    def a_line(self) -> None:
        """Six after one seat: it is given back, taken, left to the next, lapses, is offered again."""
        session = self.a_class("boro", local(2, 18))
        first, second, third, *others = self.students
        seat = reserve_class_seat(actor=first, session=session)
        self.told("reserve", seat.uid)
        places = [join_line(actor=one, session=session) for one in (second, third, *others)]
        for place in places:
            self.told("join_line", place.uid)
        leave_line(actor=third, place=places[1])
        self.told("leave", places[1].uid, seat=None)
        cancel_seat(actor=first, seat=seat)
        self.told("give_back", seat.uid)
        taken = take_offer(actor=second, place=self._anew(places[0])).seat
        assert taken is not None
        self.told("take", places[0].uid, seat=str(taken.uid))
        cancel_seat(actor=second, seat=taken)
        self.told("give_back", taken.uid)
        with time_machine.travel(local(1, 1)):
            lapse_kept()

    def a_move(self) -> None:
        """Three have seats in a class that is moved: one comes along, one is busy then, one was quicker."""
        session = self.a_class("beads", local(4, 10))
        comes, busy, quick = self.students[:3]
        for person in (comes, busy):
            self.told("reserve", reserve_class_seat(actor=person, session=session).uid)
        kept = keep_seat(actor=quick, session=session)
        self.told("keep", kept.uid)
        let_go(actor=quick, seat=kept)
        self.told("let_go", kept.uid)
        self.told("keep", keep_seat(actor=quick, session=session).uid)
        hours: dict[str, Any] = {"starts_at": local(4, 16), "ends_at": local(4, 17)}
        torch = self.town.torches[0]
        self.told("torch", reserve_bench_torch(actor=busy, torch=torch, **hours).uid)
        moved = move_session(actor=self.town.manager, session=session, starts_at=local(4, 15))
        self.told("move", moved.uid, sequence=moved.sequence, starts_at=local(4, 15).isoformat())

    def a_class_called_off(self) -> None:
        session = self.a_class("tiles", local(5, 18))
        self.told("reserve", reserve_class_seat(actor=self.students[0], session=session).uid)
        cancel_session(actor=self.town.instructor, session=session)
        self.told("call_off", session.uid)

    def a_weekly_class(self) -> None:
        who, days = self.town.other_instructor, [local(day, 10).date() for day in (8, 15)]
        what: dict[str, Any] = {"course": self.town.courses["blowing"], "studio": self.town.hot_shop}
        series = book_series(actor=who, instructor=who, days=days, time=dt.time(18), **what)
        meetings = [{"uid": str(each.uid)} for each in series.sessions.all()]
        self.told("weekly", series.uid, meetings=meetings)

    def an_outage(self) -> None:
        hours: dict[str, Any] = {"starts_at": local(6, 10), "ends_at": local(6, 11)}
        saw = self.town.equipment["saw"]
        outage = enter_outage(actor=self.town.technician, equipment=saw, reason="broken", **hours)
        self.told("outage", outage.uid)

    def a_firing(self) -> None:
        """A class of the day before, with what was recorded of its night."""
        firing = Firing.objects.get(loads__session=self.a_class("blowing", local(1, 18)))
        with time_machine.travel(local(2, 8)):
            for minute, read_c in ((0, 120.0), (30, 90.0)):
                what: dict[str, Any] = {"kind": "temperature", "at": local(2, 7, minute), "read_c": read_c}
                actual = record_actual(actor=self.town.technician, firing=firing, **what).actual
                self.told("record", "", actual={"uid": str(actual.uid)})
            strike_actual(actor=self.town.technician, actual=actual)
            self.told("strike", "", actual={"uid": str(actual.uid)})

    @staticmethod
    def _anew(row: Any) -> Any:
        row.refresh_from_db()
        return row


@pytest.fixture
def day(town: Town) -> Day:
    """A day on which everything happened that a load does."""
    Course.objects.filter(name="boro").update(seats=1)
    Studio.objects.update(notice_min=0)
    Supply.objects.filter(name="oxygen").update(limit=60)
    day = Day(town)
    with time_machine.travel(local(0, 12)):
        for happens in (day.a_firing, day.a_line, day.a_move, day.a_class_called_off):
            happens()
        kiln_jobs(town, day.told, *day.students[:2])
        day.a_weekly_class()
        day.an_outage()
        with time_machine.travel(local(0, 13)):
            lapse_kept()
        Message.objects.update(sent_at=local(0, 13))
    assert Outage.objects.exists()
    return day


def copied() -> sqlite3.Connection:
    """The tables as they are, without a constraint, a trigger or a type."""
    copy = sqlite3.connect(":memory:", isolation_level=None)
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            if table.startswith(("scheduling_", "studios_")):
                cursor.execute(f'SELECT * FROM "{table}"')
                names = ", ".join(f'"{column[0]}"' for column in cursor.description)
                copy.execute(f'CREATE TABLE "{table}" ({names})')
                row = ", ".join("?" for _ in cursor.description)
                copy.executemany(f'INSERT INTO "{table}" VALUES ({row})', map(_plain, cursor.fetchall()))
    return copy


def _plain(row: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(value if value is None or isinstance(value, int | float) else str(value) for value in row)


def wrong(tables: Tables, day: Day) -> list[str]:
    """All that is found to be wrong with the tables after that day."""
    return [
        *tables.broken(),
        *tables.unlike(day.journal, NOTHING_BEFORE),
        *tables.untold(),
        *tables.undelivered(_every_mail(tables), once=True),
    ]


def spoilt(fault: str) -> Tables:
    """The tables after that day, made wrong."""
    tables = Tables(copied())
    tables.connection.executescript(fault)
    return tables


def _every_mail(tables: Tables) -> list[str]:
    return [str(row[0]) for row in tables.rows("SELECT uid FROM scheduling_message")]


def test_where_nothing_is_wrong_nothing_is_found(day: Day) -> None:
    assert wrong(Tables(copied()), day) == []


@pytest.mark.usefixtures("day")
def test_each_promise_that_is_broken_is_found() -> None:
    missed = [
        promise
        for promise, fault in FAULTS.items()
        if not any(line.startswith(f"{promise}: ") for line in spoilt(fault).broken())
    ]

    assert missed == []
    assert FAULTS.keys() == (BROKEN | WAITING).keys()


UNLIKE = (
    *((f"DELETE FROM {table}", f"{what} acknowledged and lost") for what, (table, _) in ROWS.items()),
    *(
        (
            f"{twice(table)}; UPDATE {table} SET uid = 'another' WHERE id = 999999",
            f"{what} nobody was told of",
        )
        for what, (table, _) in ROWS.items()
    ),
    ("UPDATE scheduling_seat SET status = 'booked'", "seats ended and still there"),
    ("UPDATE scheduling_seat SET status = 'cancelled'", "seats gone that nobody ended"),
    ("UPDATE scheduling_session SET status = 'booked'", "sessions ended and still there"),
    ("UPDATE scheduling_session SET status = 'cancelled'", "sessions gone that nobody ended"),
    ("UPDATE scheduling_waitingplace SET status = 'waiting'", "places in lines ended and still there"),
    ("UPDATE scheduling_waitingplace SET status = 'left'", "places in lines gone that nobody ended"),
    ("UPDATE scheduling_actual SET struck_at = NULL", "records ended and still there"),
    ("UPDATE scheduling_actual SET struck_at = at", "records gone that nobody ended"),
    ("UPDATE scheduling_kilnjob SET status = 'booked'", "kiln jobs ended and still there"),
    ("UPDATE scheduling_kilnjob SET status = 'booked'", "kiln jobs booked that nobody was told of"),
    ("UPDATE scheduling_kilnjob SET status = 'cancelled'", "kiln jobs gone that nobody ended"),
    ("UPDATE scheduling_kilnjob SET status = 'asked'", "kiln jobs booked and only asked for"),
    (
        "DELETE FROM scheduling_auditentry WHERE did = 'book'",
        "kiln jobs booked otherwise than was noted",
    ),
    (
        "UPDATE scheduling_message SET subject = 'Hello' WHERE subject LIKE 'Planned anew: %'",
        "people told otherwise of plans anew than was booked",
    ),
    ("UPDATE scheduling_piece SET state = 'expected'", "pieces brought that have not come"),
    ("UPDATE scheduling_piece SET state = 'here'", "pieces that came unbrought"),
    ("DELETE FROM scheduling_auditentry WHERE did = 'offer'", "offers taken that the line never made"),
    ("UPDATE scheduling_session SET starts_at = '2031-03-04 05:06:07'", "and was last put at"),
    ("UPDATE scheduling_session SET sequence = sequence + 1", "and its moves were"),
    ("DELETE FROM scheduling_auditentry WHERE did = 'move'", "the moves that were noted"),
    ("UPDATE scheduling_repeatedrequest SET status_code = 500", "answers unlike the ones kept"),
)


def test_what_differs_from_what_was_told_is_found(day: Day) -> None:
    missed = [
        (fault, finding)
        for fault, finding in UNLIKE
        if not any(finding in line for line in spoilt(fault).unlike(day.journal, NOTHING_BEFORE))
    ]

    assert missed == []


@pytest.mark.usefixtures("day")
def test_what_is_told_without_a_cause_or_not_at_all_is_found() -> None:
    untold = spoilt("DELETE FROM scheduling_message")
    causeless = spoilt(
        "DELETE FROM scheduling_auditentry; DELETE FROM scheduling_series;"
        "UPDATE scheduling_session SET status = 'booked'"
    )

    for tables in (untold, causeless):
        assert [line.split("'")[1] for line in tables.untold()] == list(TOLD)


@pytest.mark.usefixtures("day")
def test_mails_that_never_went_or_went_for_nothing_or_twice_are_found() -> None:
    tables = Tables(copied())
    mailed = _every_mail(tables)

    assert list(tables.undelivered(mailed, once=True)) == []
    assert list(tables.undelivered(mailed[1:], once=True)) != []
    assert list(tables.undelivered([*mailed, "of nothing"], once=True)) != []
    assert list(tables.undelivered([*mailed, mailed[0]], once=True)) != []
    assert list(tables.undelivered([*mailed, mailed[0]], once=False)) == []
