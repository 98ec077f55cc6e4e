"""A seat with nothing in the way is given at once; else the rules are gone through one by one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone

from scheduling.models import BookingStatus, Outage, Seat, Session
from scheduling.services import seats
from scheduling.services.at_once import seat_at_once
from scheduling.services.in_line import join_line
from scheduling.services.keeping import keep_seat
from scheduling.services.seats import cancel_seat, reserve_class_seat
from studios.errors import LehrbookError
from studios.models import Membership, SafetyText
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def nothing(town: Town, session: Session) -> None:
    """The plain case."""


def one_sits(town: Town, session: Session) -> None:
    reserve_class_seat(actor=town.other_student, session=session)


def a_gap(town: Town, session: Session) -> None:
    first = reserve_class_seat(actor=town.other_student, session=session)
    reserve_class_seat(actor=town.instructor, person=town.manager, session=session)
    cancel_seat(actor=town.other_student, seat=first)


def full(town: Town, session: Session) -> None:
    Session.objects.filter(pk=session.pk).update(seats=1)
    one_sits(town, session)


def one_kept(town: Town, session: Session) -> None:
    keep_seat(actor=town.other_student, session=session)


def own_kept(town: Town, session: Session) -> None:
    keep_seat(actor=town.student, session=session)


def sits_already(town: Town, session: Session) -> None:
    reserve_class_seat(actor=town.student, session=session)


def somebody_waits(town: Town, session: Session) -> None:
    full(town, session)
    join_line(actor=town.manager, session=session)
    Session.objects.filter(pk=session.pk).update(seats=2)


def busy_then(town: Town, session: Session) -> None:
    elsewhere = "blowing" if session.course.slug == "beads" else "beads"
    other = book(town, elsewhere, local(3, 14), town.other_instructor)
    reserve_class_seat(actor=town.student, session=other)


def unread(town: Town, session: Session) -> None:
    SafetyText.objects.create(
        studio=session.studio, version=1, body="Eyes.", since=timezone.now() - dt.timedelta(days=1)
    )


def builds_on(town: Town, session: Session) -> None:
    session.course.requires.add(town.courses["boro"])


def called_off(town: Town, session: Session) -> None:
    Session.objects.filter(pk=session.pk).update(status=BookingStatus.CANCELLED)


def has_begun(town: Town, session: Session) -> None:
    now = timezone.now()
    Session.objects.filter(pk=session.pk).update(starts_at=now, ends_at=now + dt.timedelta(hours=2))


def a_stranger(town: Town, session: Session) -> None:
    Membership.objects.filter(person=town.student).delete()


def no_longer_active(town: Town, session: Session) -> None:
    town.student.is_active = False
    town.student.save()


def first_torch_is_out(town: Town, session: Session) -> None:
    torch = town.torches[0]
    Outage.objects.create(
        equipment=torch, starts_at=session.starts_at, ends_at=session.ends_at, reason="leak"
    )


def dearer_since(town: Town, session: Session) -> None:
    type(session.course).objects.filter(pk=session.course_id).update(price=Decimal("95.00"))


PLAIN = (nothing, one_sits, first_torch_is_out, dearer_since)
IN_THE_WAY = (
    a_gap,
    full,
    one_kept,
    own_kept,
    sits_already,
    somebody_waits,
    busy_then,
    unread,
    builds_on,
    called_off,
    has_begun,
    a_stranger,
    no_longer_active,
)
Story = Callable[[Town, Session], None]


def outcome(town: Town, session: Session) -> Any:
    """What comes of wanting a seat; it is undone."""
    with transaction.atomic():
        found = _outcome(town, session)
        transaction.set_rollback(True)
    return found


def _outcome(town: Town, session: Session) -> Any:
    try:
        seat = reserve_class_seat(actor=town.student, session=Session.objects.get(pk=session.pk))
    except LehrbookError as error:
        return error.code, str(error)
    row = Seat.objects.filter(pk=seat.pk)
    return row.values("number", "torch", "price", "starts_at", "ends_at", "status", "note").get()


@pytest.mark.parametrize("course", ["beads", "blowing"])
@pytest.mark.parametrize("story", [*PLAIN, *IN_THE_WAY], ids=lambda story: story.__name__)
def test_at_once_or_by_the_rules_the_outcome_is_the_same(
    town: Town, course: str, story: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = book(town, course, local(3, 12))
    story(town, session)
    at_once = outcome(town, session)

    monkeypatch.setattr(seats, "seat_at_once", lambda *_: None)

    assert outcome(town, session) == at_once


@pytest.mark.parametrize("story", PLAIN, ids=lambda story: story.__name__)
def test_with_nothing_in_the_way_the_seat_is_given_at_once(town: Town, story: Story) -> None:
    session = book(town, "beads", local(3, 12))
    story(town, session)

    assert seat_at_once(town.student, Session.objects.get(pk=session.pk)) is not None


@pytest.mark.parametrize("story", IN_THE_WAY[:-1], ids=lambda story: story.__name__)
def test_whatever_may_matter_is_left_to_the_rules(town: Town, story: Story) -> None:
    session = book(town, "beads", local(3, 12))
    story(town, session)

    assert seat_at_once(town.student, Session.objects.get(pk=session.pk)) is None
