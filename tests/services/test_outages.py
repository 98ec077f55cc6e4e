"""What an outage breaks is listed with its nearest repair, and heat that leant across it is made good."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import AuditEntry, Message, Outage
from scheduling.selectors.broken import Broken, Repair, What, broken_by
from scheduling.services.charges import book_charge
from scheduling.services.moving import move_session
from scheduling.services.outages import end_outage, enter_outage, withdraw_outage
from scheduling.services.repairing import with_repairs
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Pot, StaffedHours
from tests.invariants import broken
from tests.services.test_booking import book, firing_of
from tests.services.test_heat import cold_lead, hole, lead_min
from tests.services.test_moving import every_row, held_by
from tests.worlds import Town, add_course, local

pytestmark = pytest.mark.django_db
BLOWING = {"furnace": 1, "glory-hole": 1, "annealer": 1}


@pytest.fixture
def one_hole(town: Town) -> Town:
    """The town with one glory hole, and a class of an hour."""
    town.equipment["hole 2"].delete()
    add_course(town, "an hour", town.hot_shop, "studio-96", BLOWING, minutes=60)
    return town


def out(town: Town, name: str, begin: dt.datetime, end: dt.datetime) -> Outage:
    """A technician takes equipment out of use."""
    return enter_outage(
        actor=town.technician, equipment=town.equipment[name], starts_at=begin, ends_at=end, reason="repair"
    )


def listed(outage: Outage) -> list[Broken]:
    """What an outage breaks, with repairs; looking changes nothing."""
    before = every_row()
    found = with_repairs(broken_by(outage))
    assert every_row() == before
    return list(found)


def repair(broken_thing: Broken) -> Repair:
    assert broken_thing.repair is not None
    return broken_thing.repair


def test_a_class_is_repaired_at_its_own_time_with_other_equipment(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    [found] = listed(out(town, "hole 1", local(1, 15), local(1, 20)))

    assert (found.what, found.uid, found.title) == (What.SESSION, session.uid, "blowing")
    assert found.why == (
        "hole 1 is out of use from Tue 4 Mar 2031, 15:00 CST to Tue 4 Mar 2031, 20:00 CST: repair."
    )
    assert repair(found).starts_at == local(1, 18)
    assert repair(found).sentence == "At its own time, with hole 2, bench 2, warmer 2."


def test_what_was_listed_is_what_the_move_does(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    outage = out(town, "annealer 1", local(2, 1), local(2, 2))
    [found] = listed(outage)
    assert (found.what, found.session) == (What.FIRING, session)
    Message.objects.all().delete()

    starts_at = repair(found).starts_at
    assert starts_at is not None
    moved = move_session(actor=town.manager, session=session, starts_at=starts_at)

    assert held_by(moved) == {one.name for one in repair(found).equipment}
    assert broken_by(outage) == ()
    assert list(Message.objects.values_list("person__name", "subject")) == [
        ("Instructor", "Changed: blowing")
    ]
    assert broken() == []


def test_where_the_time_cannot_be_kept_the_nearest_start_is_named(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 18))

    [found] = listed(out(one_hole, "hole 1", local(1, 17), local(1, 19, 30)))

    # Lit at once after it, the hole would be ready at 20:43; before it the class is over at five.
    assert repair(found).starts_at == local(1, 16)
    assert repair(found).sentence == "Tue 4 Mar 2031, 16:00 CST, with the same equipment."


def test_a_repair_says_how_many_could_not_come(one_hole: Town) -> None:
    session = book(one_hole, "an hour", local(1, 18))
    reserve_class_seat(actor=one_hole.student, session=session)
    reserve_bench_torch(
        actor=one_hole.student,
        torch=one_hole.torches[0],
        starts_at=local(1, 15, 30),
        ends_at=local(1, 16, 30),
    )

    [found] = listed(out(one_hole, "hole 1", local(1, 17), local(1, 19, 30)))

    assert (repair(found).starts_at, repair(found).losing) == (local(1, 16), 1)


def test_where_nothing_is_near_the_reasons_are_given(one_hole: Town) -> None:
    session = book(one_hole, "an hour", local(1, 18))

    [found] = listed(out(one_hole, "hole 1", local(-30, 8), local(60, 8)))

    assert (found.session, repair(found).found) == (session, False)
    assert any("hole 1 is out of use (repair)" in reason for reason in repair(found).reasons)


def test_a_class_that_has_begun_is_not_moved(town: Town) -> None:
    book(town, "blowing", local(1, 18))

    with time_machine.travel(local(1, 19), tick=False):
        [found] = listed(out(town, "hole 1", local(1, 19), local(1, 20)))

    assert repair(found).reasons == ("blowing has begun and can no longer be moved.",)


def test_what_is_over_is_not_broken(town: Town) -> None:
    book(town, "blowing", local(1, 10))

    with time_machine.travel(local(1, 14), tick=False):
        assert listed(out(town, "hole 1", local(1, 9), local(1, 20))) == []


def test_a_shared_firing_is_listed_for_each_class(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    early = book(town, "blowing", local(1, 14))
    late = book(town, "blowing", local(1, 17), town.other_instructor)

    found = listed(out(town, "annealer 1", local(1, 12), local(1, 16)))

    assert [(each.what, each.session) for each in found] == [(What.FIRING, early), (What.FIRING, late)]
    assert {each.uid for each in found} == {firing_of(early).uid}


def test_bench_time_is_repaired_at_another_torch(town: Town) -> None:
    torch = town.torches[0]
    seat = reserve_bench_torch(actor=town.student, torch=torch, starts_at=local(2, 12), ends_at=local(2, 14))

    [found] = listed(out(town, "torch 1", local(2, 13), local(2, 15)))

    assert (found.what, found.uid) == (What.SEAT, seat.uid)
    assert repair(found).sentence == "At the same time, with torch 2."


def test_bench_time_without_another_torch_is_repaired_at_the_nearest_hour(town: Town) -> None:
    for other in town.torches[1:]:
        other.active = False
        other.save()
    reserve_bench_torch(
        actor=town.student, torch=town.torches[0], starts_at=local(2, 12), ends_at=local(2, 14)
    )

    [found] = listed(out(town, "torch 1", local(2, 13), local(2, 15)))

    assert repair(found).starts_at == local(2, 10, 55)


def test_a_charge_is_repaired_at_the_nearest_hours(town: Town) -> None:
    pot = Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    charge = book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(3, 8))

    [found] = listed(out(town, "furnace", local(3, 9), local(3, 10)))

    assert (found.what, found.uid, found.title) == (What.CHARGE, charge.uid, "Charge of furnace")
    assert repair(found).found
    assert repair(found).starts_at != charge.starts_at


def test_heat_that_leant_across_an_outage_is_made_after_it(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 12))
    later = book(one_hole, "an hour", local(1, 15, 30), one_hole.other_instructor)
    assert lead_min(later) < cold_lead()

    outage = out(one_hole, "hole 1", local(1, 13, 15), local(1, 13, 45))

    assert lead_min(later) >= cold_lead()
    assert listed(outage) == []


def test_what_finds_no_room_to_heat_after_an_outage_is_broken(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 12))
    later = book(one_hole, "an hour", local(1, 14), one_hole.other_instructor)

    [found] = listed(out(one_hole, "hole 1", local(1, 13, 15), local(1, 13, 20)))

    assert (found.what, found.session) == (What.SESSION, later)
    assert "hole 1 is cold after the outage, takes 73 min to heat" in found.why
    assert repair(found).starts_at == local(1, 14, 33)


def test_what_nobody_may_light_after_an_outage_is_broken(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 12))
    later = book(one_hole, "an hour", local(1, 15), one_hole.other_instructor)
    StaffedHours.objects.filter(studio=one_hole.hot_shop).update(may_light=False)
    for opens, closes in ((8, dt.time(13, 45)), (14, dt.time(23))):
        for weekday in range(7):
            StaffedHours.objects.create(
                studio=one_hole.hot_shop, weekday=weekday, opens=dt.time(opens), closes=closes
            )

    [found] = listed(out(one_hole, "hole 1", local(1, 13, 15), local(1, 13, 30)))

    assert found.session == later
    assert "when nobody who may light it is there" in found.why


def test_an_outage_that_ends_early_lets_what_follows_be_lit_later_again(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 12))
    later = book(one_hole, "an hour", local(1, 15, 30), one_hole.other_instructor)
    stood = hole(later).exclusive_from
    outage = out(one_hole, "hole 1", local(1, 13, 15), local(1, 13, 45))

    withdraw_outage(actor=one_hole.technician, outage=outage)

    assert hole(later).exclusive_from == stood
    assert not Outage.objects.exists()
    assert broken() == []


def test_an_outage_is_over_when_the_equipment_works_again(town: Town) -> None:
    outage = out(town, "hole 1", local(1, 12), local(1, 20))

    with time_machine.travel(local(1, 14), tick=False):
        ended = end_outage(actor=town.technician, outage=outage)
        session = book(town, "blowing", local(1, 20))

    assert ended.ends_at == local(1, 14)
    assert "hole 1" in held_by(session)
    assert [entry.did for entry in AuditEntry.objects.order_by("pk")][:2] == ["enter-outage", "end-outage"]


def test_an_outage_ends_between_its_start_and_its_end(town: Town) -> None:
    outage = out(town, "hole 1", local(1, 12), local(1, 20))

    for ends_at, why in (
        (local(1, 12), "one that never was is withdrawn"),
        (local(1, 20), "enter another outage"),
    ):
        with pytest.raises(InvalidInput, match=why):
            end_outage(actor=town.technician, outage=outage, ends_at=ends_at)
    with time_machine.travel(local(1, 20), tick=False):
        with pytest.raises(Over, match="is over already"):
            end_outage(actor=town.technician, outage=outage)
        with pytest.raises(Over, match="stands for what was"):
            withdraw_outage(actor=town.technician, outage=outage)


def test_an_outage_is_withdrawn_once(town: Town) -> None:
    outage = out(town, "hole 1", local(1, 12), local(1, 20))
    withdraw_outage(actor=town.technician, outage=outage)

    with pytest.raises(Over, match="is withdrawn already"):
        withdraw_outage(actor=town.technician, outage=outage)
    assert AuditEntry.objects.filter(did="withdraw-outage", subject=outage.uid).count() == 1


@pytest.mark.parametrize("who", ["student", "instructor"])
def test_only_who_enters_outages_ends_them(town: Town, who: str) -> None:
    outage = out(town, "hole 1", local(1, 12), local(1, 20))

    for act in (end_outage, withdraw_outage):
        with pytest.raises(NotAllowed, match="enter an outage"):
            act(actor=town.people[who], outage=outage)


def test_nobody_is_told_by_the_listing(town: Town) -> None:
    book(town, "blowing", local(1, 18))
    before = Message.objects.count()

    listed(out(town, "hole 1", local(1, 15), local(1, 20)))

    assert Message.objects.count() == before
