"""A seat is marked as paid, or not, and it is kept who said so; what is given back after is listed."""

from __future__ import annotations

from decimal import Decimal

import pytest
import time_machine

from scheduling.errors import NotAllowed, NotPriced, Over
from scheduling.models import AuditEntry, Seat
from scheduling.selectors.payments import bench_unpaid, given_back_paid
from scheduling.services.cancelling import cancel_session
from scheduling.services.payments import mark_paid, unmark_paid
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from tests.services.test_booking import book
from tests.services.test_line import NINE
from tests.worlds import Town, local

pytestmark = [pytest.mark.django_db, pytest.mark.time_machine(NINE, tick=False)]


def a_seat(town: Town, price: str | None = "45.50") -> Seat:
    """A seat in a bead class at the price of that day."""
    town.courses["beads"].price = Decimal(price) if price else None
    town.courses["beads"].save()
    return reserve_class_seat(actor=town.student, session=book(town, "beads", local(4, 18)))


def test_who_marks_what_and_when_is_kept_also_when_it_is_taken_back(town: Town) -> None:
    seat = a_seat(town)

    mark_paid(actor=town.instructor, seat=seat)
    assert (seat.paid_at, seat.paid_noted_by) == (NINE, town.instructor)
    unmark_paid(actor=town.manager, seat=seat)

    assert (seat.paid_at, seat.paid_noted_by) == (None, None)
    noted = AuditEntry.objects.filter(subject=seat.uid, did__endswith="mark-paid").order_by("pk")
    assert [(one.actor, one.did) for one in noted] == [
        (town.instructor, "mark-paid"),
        (town.manager, "unmark-paid"),
    ]
    assert noted[0].said.startswith("Paid: 45.50, seat 1, torch 1, for Student, beads at Flame")


def test_a_price_that_changes_later_is_not_what_was_paid(town: Town) -> None:
    seat = a_seat(town)
    town.courses["beads"].price = Decimal(90)
    town.courses["beads"].save()

    mark_paid(actor=town.manager, seat=seat)

    seat.refresh_from_db()
    assert seat.price == Decimal("45.50")


@pytest.mark.parametrize("who", ["student", "technician", "stranger"])
def test_nobody_else_marks_anything(town: Town, who: str) -> None:
    seat = a_seat(town)

    for does in (mark_paid, unmark_paid):
        with pytest.raises(NotAllowed):
            does(actor=getattr(town, who), seat=seat)


def test_nothing_is_marked_twice(town: Town) -> None:
    seat = a_seat(town)

    with pytest.raises(Over, match="is not marked as paid"):
        unmark_paid(actor=town.manager, seat=seat)
    mark_paid(actor=town.manager, seat=seat)
    with pytest.raises(Over, match="is marked as paid already"):
        mark_paid(actor=town.manager, seat=Seat.objects.get(pk=seat.pk))


@pytest.mark.parametrize("price", [None, "0"])
def test_a_seat_without_a_price_is_not_paid(town: Town, price: str | None) -> None:
    with pytest.raises(NotPriced, match="no price that could be paid"):
        mark_paid(actor=town.manager, seat=a_seat(town, price))


def test_a_seat_that_was_given_back_is_not_paid_any_more(town: Town) -> None:
    seat = a_seat(town)
    cancel_seat(actor=town.student, seat=seat)

    with pytest.raises(NotPriced, match="Only a booked seat"):
        mark_paid(actor=town.manager, seat=seat)


@pytest.mark.parametrize("how", ["given back", "called off"])
def test_what_is_given_back_after_it_was_paid_is_listed_until_the_money_is_back(town: Town, how: str) -> None:
    seat = mark_paid(actor=town.instructor, seat=a_seat(town))
    assert list(given_back_paid(town.manager)) == []

    if how == "given back":
        cancel_seat(actor=town.student, seat=seat)
    else:
        cancel_session(actor=town.instructor, session=seat.session)  # type: ignore[arg-type]
    assert list(given_back_paid(town.manager)) == [seat]
    assert list(given_back_paid(town.student)) == []
    unmark_paid(actor=town.manager, seat=seat)

    assert list(given_back_paid(town.manager)) == []


def test_bench_time_that_has_begun_and_is_not_paid_is_listed(town: Town) -> None:
    town.flame.torch_hour_price = Decimal(12)
    town.flame.save()
    town.torches[0].refresh_from_db()
    a_seat(town)  # of a class: that stands on its roster
    bench = reserve_bench_torch(
        actor=town.student, torch=town.torches[0], starts_at=local(1, 12), ends_at=local(1, 14)
    )
    assert list(bench_unpaid(town.manager)) == []

    with time_machine.travel(local(5, 12), tick=False):
        assert list(bench_unpaid(town.manager)) == [bench]
        mark_paid(actor=town.manager, seat=bench)
        assert list(bench_unpaid(town.manager)) == []
