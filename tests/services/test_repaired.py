"""Bench time and charges that an outage breaks are moved to where a repair was found, and it is told."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import ChargeNeeded, NoBenchTime, NoStart, NotAllowed, Over
from scheduling.models import AuditEntry, Charge, Message, Occupancy, Seat
from scheduling.selectors.broken import broken_by
from scheduling.services.bench_moves import move_bench_time
from scheduling.services.charges import book_charge, move_charge
from scheduling.services.keeping import keep_torch
from scheduling.services.repairing import with_repairs
from scheduling.services.seats import cancel_seat, reserve_bench_torch
from studios.models import Person, Pot
from tests.invariants import broken
from tests.services.test_booking import book
from tests.services.test_moving import every_row
from tests.services.test_outages import out
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def bench(town: Town, number: int = 1, person: Person | None = None, hour: int = 12) -> Seat:
    """Two hours at a torch on Wednesday."""
    return reserve_bench_torch(
        actor=person or town.student,
        torch=town.torches[number - 1],
        starts_at=local(2, hour),
        ends_at=local(2, hour + 2),
    )


def told(person: Person) -> str:
    """The last thing that a person was told."""
    return Message.objects.filter(person=person).order_by("-pk")[0].body


def held(seat: Seat) -> set[str]:
    rows = Occupancy.objects.filter(booking=seat.booking)
    return set(rows.values_list("equipment__name", flat=True))


def test_bench_time_goes_to_another_torch_at_its_own_time(town: Town) -> None:
    seat = bench(town)
    outage = out(town, "torch 1", local(2, 13), local(2, 15))

    move_bench_time(actor=town.technician, seat=seat, starts_at=seat.starts_at)

    seat.refresh_from_db()
    assert (seat.torch, seat.number, seat.starts_at) == (town.torches[1], 2, local(2, 12))
    assert held(seat) == {"torch 2"}
    assert seat.sequence == 1
    assert "Wed 5 Mar 2031, 12:00 CST, is with torch 2 now." in told(town.student)
    assert AuditEntry.objects.filter(did="move", subject=seat.uid, actor=town.technician).exists()
    assert broken_by(outage) == ()
    assert broken() == []


def test_where_no_torch_is_free_it_goes_to_the_hours_that_were_found(town: Town) -> None:
    seat = bench(town)
    for other in town.torches[1:]:
        other.active = False
        other.save()
    [found] = with_repairs(broken_by(out(town, "torch 1", local(2, 13), local(2, 15))))
    assert found.repair is not None
    assert found.repair.starts_at is not None

    move_bench_time(actor=town.technician, seat=seat, starts_at=found.repair.starts_at)

    seat.refresh_from_db()
    assert (seat.starts_at, seat.ends_at) == (local(2, 10, 55), local(2, 12, 55))
    assert "is moved to Wed 5 Mar 2031, 10:55 CST to" in told(town.student)
    assert broken() == []


def test_whoever_cannot_come_then_gives_it_back_until_it_begins(town: Town) -> None:
    seat = bench(town)
    move_bench_time(actor=town.technician, seat=seat, starts_at=local(2, 15))

    with time_machine.travel(local(2, 14, 30), tick=False):
        cancel_seat(actor=town.student, seat=seat)

    assert held(seat) == set()


def test_the_oxygen_is_asked_again(town: Town) -> None:
    """At five a class at the torches takes all there is."""
    seat = bench(town, 8)
    book(town, "beads", local(2, 17))
    before = every_row()

    with pytest.raises(NoStart, match="oxygen"):
        move_bench_time(actor=town.technician, seat=seat, starts_at=local(2, 17))

    assert every_row() == before


def test_what_was_kept_too_long_is_in_no_repair_s_way(town: Town) -> None:
    seat = bench(town)
    for other in town.torches[2:]:
        other.active = False
        other.save()
    with time_machine.travel(local(0, 9), tick=False) as clock:
        kept = keep_torch(
            actor=town.other_student,
            torch=town.torches[1],
            starts_at=local(2, 12),
            ends_at=local(2, 14),
        )
        outage = out(town, "torch 1", local(2, 13), local(2, 15))
        clock.shift(dt.timedelta(minutes=11))
        [found] = with_repairs(broken_by(outage))

        move_bench_time(actor=town.technician, seat=seat, starts_at=local(2, 12))

    kept.refresh_from_db()
    assert found.repair is not None
    assert found.repair.sentence == "At the same time, with torch 2."
    assert (seat.torch, kept.status) == (town.torches[1], "cancelled")


def test_bench_time_is_moved_within_open_bench_time_only(town: Town) -> None:
    with pytest.raises(NoBenchTime):
        move_bench_time(actor=town.manager, seat=bench(town), starts_at=local(2, 3))


def test_what_has_begun_or_is_given_back_is_not_moved(town: Town) -> None:
    seat, gone = bench(town), bench(town, 2, town.other_student)
    cancel_seat(actor=town.other_student, seat=gone)

    with pytest.raises(Over, match="no booked bench time"):
        move_bench_time(actor=town.technician, seat=gone, starts_at=local(2, 15))
    with time_machine.travel(local(2, 12, 30), tick=False), pytest.raises(Over, match="has begun"):
        move_bench_time(actor=town.technician, seat=seat, starts_at=local(2, 15))


def test_a_student_moves_nobody(town: Town) -> None:
    with pytest.raises(NotAllowed):
        move_bench_time(actor=town.student, seat=bench(town), starts_at=local(2, 15))


# Charges.


@pytest.fixture
def pot(town: Town) -> Pot:
    return Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)


def test_a_charge_goes_to_the_start_that_was_found_and_whoever_booked_it_is_told(
    town: Town, pot: Pot
) -> None:
    charge = book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(3, 8))
    outage = out(town, "furnace", local(3, 9), local(3, 10))
    [found] = with_repairs(broken_by(outage))
    assert found.repair is not None
    assert found.repair.starts_at is not None
    lasts = charge.ends_at - charge.starts_at

    move_charge(actor=town.manager, charge=charge, starts_at=found.repair.starts_at)

    charge.refresh_from_db()
    assert (charge.starts_at, charge.ends_at) == (found.repair.starts_at, found.repair.starts_at + lasts)
    assert charge.sequence == 1
    assert "is moved to" in told(town.technician)
    assert broken_by(outage) == ()
    assert broken() == []


def test_a_charge_is_not_moved_past_a_class_that_needs_its_glass(town: Town, pot: Pot) -> None:
    book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(0, 12), level_after_kg=41)
    charge = book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(3, 8))
    town.courses["blowing"].glass_kg_per_seat = 1.0
    town.courses["blowing"].save()
    book(town, "blowing", local(5, 18))
    before = every_row()

    with pytest.raises(ChargeNeeded):
        move_charge(actor=town.technician, charge=charge, starts_at=local(7, 8))

    assert every_row() == before


def test_a_charge_that_has_started_or_meets_a_class_stays(town: Town, pot: Pot) -> None:
    charge = book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(3, 8))
    book(town, "blowing", local(5, 18))

    with pytest.raises(NoStart):
        move_charge(actor=town.technician, charge=charge, starts_at=local(5, 8))
    with time_machine.travel(local(3, 9), tick=False), pytest.raises(Over, match="has started"):
        move_charge(actor=town.technician, charge=charge, starts_at=local(7, 8))
    with pytest.raises(NotAllowed):
        move_charge(actor=town.instructor, charge=charge, starts_at=local(7, 8))

    assert Charge.objects.get().starts_at == local(3, 8)
