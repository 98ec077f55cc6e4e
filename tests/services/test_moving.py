"""A class that is moved takes everything along, or stays as it is to the last row."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.apps import apps

from scheduling.errors import InvalidInput, NoStart, NotAllowed, Over, SeatsDoNotFit
from scheduling.models import (
    AuditEntry,
    Firing,
    LineStatus,
    Message,
    Outage,
    PersonSpan,
    Seat,
    Session,
    WaitingPlace,
)
from scheduling.selectors.options import Option, Refused
from scheduling.services.cancelling import cancel_session
from scheduling.services.moving import move_session
from scheduling.services.rehearsing import rehearse_move
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Equipment, Person
from tests.invariants import broken
from tests.services.test_booking import book, firing_of
from tests.services.test_heat import cold_lead, hole, lead_min
from tests.worlds import Town, add_course, local

pytestmark = pytest.mark.django_db
BLOWING = {"furnace": 1, "glory-hole": 1, "annealer": 1}


def every_row() -> dict[str, list[dict[str, Any]]]:
    """All that the book holds, row by row."""
    return {
        model.__name__: list(model.objects.order_by("pk").values())  # type: ignore[attr-defined]
        for model in apps.get_app_config("scheduling").get_models()
    }


def out(equipment: Equipment, begin: dt.datetime, end: dt.datetime) -> Outage:
    """Equipment is out of use."""
    return Outage.objects.create(equipment=equipment, starts_at=begin, ends_at=end, reason="repair")


def told(person: Person) -> list[str]:
    """What somebody was told, in order."""
    return list(Message.objects.filter(person=person).order_by("pk").values_list("subject", flat=True))


def held_by(session: Session) -> set[str]:
    own = session.booking.occupancies.values_list("equipment__name", flat=True)
    return set(own) | set(session.loads.values_list("firing__equipment__name", flat=True))


@pytest.fixture
def one_hole(town: Town) -> Town:
    """The town with one glory hole, and a class of an hour."""
    town.equipment["hole 2"].delete()
    add_course(town, "an hour", town.hot_shop, "studio-96", BLOWING, minutes=60)
    return town


def test_a_class_is_at_its_new_time_with_all_that_it_holds(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    uid, held = session.uid, held_by(session)

    moved = move_session(actor=town.instructor, session=session, starts_at=local(2, 10))

    assert (moved.uid, moved.sequence, moved.starts_at) == (uid, 1, local(2, 10))
    assert held_by(moved) == held
    assert hole(moved).exclusive_to == local(2, 13)
    assert firing_of(moved).last_in_at == local(2, 13)
    assert PersonSpan.objects.get(person=town.instructor).starts_at == local(2, 10)
    assert Firing.objects.filter(status="booked").count() == 1
    assert broken() == []


def test_the_old_hours_are_free_again(one_hole: Town) -> None:
    session = book(one_hole, "blowing", local(1, 18))

    move_session(actor=one_hole.instructor, session=session, starts_at=local(2, 10))

    again = book(one_hole, "blowing", local(1, 18), one_hole.other_instructor)

    assert again.starts_at == local(1, 18)


def test_a_class_is_not_in_its_own_way(one_hole: Town) -> None:
    session = book(one_hole, "blowing", local(1, 14))

    moved = move_session(actor=one_hole.instructor, session=session, starts_at=local(1, 14, 7))

    assert moved.starts_at == local(1, 14, 7)
    assert lead_min(moved) >= cold_lead()


def test_a_refusal_leaves_every_row_as_it_was(one_hole: Town) -> None:
    town = one_hole
    first = book(town, "an hour", local(1, 12))
    second = book(town, "an hour", local(1, 13, 30), town.other_instructor)
    book(town, "blowing", local(2, 18), town.other_instructor)
    reserve_class_seat(actor=town.student, session=first)
    assert firing_of(first) == firing_of(second)
    assert lead_min(second) < cold_lead()
    before = every_row()

    with pytest.raises(NoStart, match="hole 1 is held by blowing"):
        move_session(actor=town.instructor, session=first, starts_at=local(2, 19))

    assert every_row() == before


def test_a_rehearsal_changes_nothing_and_finds_what_the_move_does(one_hole: Town) -> None:
    town = one_hole
    first = book(town, "an hour", local(1, 12))
    book(town, "an hour", local(1, 13, 30), town.other_instructor)
    before = every_row()

    found = rehearse_move(actor=town.instructor, session=first, starts_at=local(1, 16)).answer
    assert every_row() == before
    moved = move_session(actor=town.instructor, session=first, starts_at=local(1, 16))

    assert isinstance(found, Option)
    spans = {(line.equipment.name, line.starts_at, line.ends_at) for line in found.held}
    rows = {(row.equipment.name, row.starts_at, row.ends_at) for row in moved.booking.occupancies.all()}
    firing = firing_of(moved)
    assert spans == rows | {(firing.equipment.name, firing.occupancy.starts_at, firing.occupancy.ends_at)}


def test_a_rehearsal_says_why_not_and_what_is_nearest(one_hole: Town) -> None:
    first = book(one_hole, "blowing", local(1, 10))
    book(one_hole, "blowing", local(1, 18), one_hole.other_instructor)

    found = rehearse_move(actor=one_hole.instructor, session=first, starts_at=local(1, 17)).answer

    assert isinstance(found, Refused)
    assert any("hole 1 is held by blowing" in reason.sentence for reason in found.reasons)
    times = [each.option.starts_at for each in found.openings if each.change == "time"]
    assert local(1, 15) in times
    moved = move_session(actor=one_hole.instructor, session=first, starts_at=times[0])
    assert moved.starts_at == times[0]


def test_what_leant_on_its_heat_is_lit_earlier_and_what_follows_it_now_later(one_hole: Town) -> None:
    town = one_hole
    first = book(town, "an hour", local(1, 12))
    leans = book(town, "an hour", local(1, 14), town.other_instructor)
    evening = book(town, "an hour", local(1, 20), town.other_instructor)
    assert lead_min(leans) < cold_lead() <= lead_min(evening)

    move_session(actor=town.instructor, session=first, starts_at=local(1, 18))

    assert lead_min(leans) >= cold_lead()
    assert lead_min(evening) < cold_lead()
    assert lead_min(first) < cold_lead()
    assert broken() == []


def test_a_shared_firing_lives_on_and_may_end_earlier(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    early = book(town, "blowing", local(1, 14))
    late = book(town, "blowing", local(1, 17), town.other_instructor)
    shared = firing_of(early)
    assert shared == firing_of(late)

    move_session(actor=town.other_instructor, session=late, starts_at=local(3, 17))

    shared.refresh_from_db()
    assert shared.last_in_at == local(1, 17)
    assert firing_of(late) != shared
    assert f"Firing moved: {shared.equipment.name}" in told(town.instructor)
    assert broken() == []


def test_a_move_within_a_shared_firing_tells_the_others_once_where_it_ends(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    early = book(town, "blowing", local(1, 14))
    late = book(town, "blowing", local(1, 17), town.other_instructor)
    Message.objects.all().delete()

    move_session(actor=town.other_instructor, session=late, starts_at=local(1, 17, 30))

    assert firing_of(early) == firing_of(late)
    assert firing_of(early).last_in_at == local(1, 20, 30)
    assert told(town.instructor) == ["Firing moved: annealer 1"]


def test_a_firing_that_is_lit_stays_hot_for_those_who_stay(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    early = book(town, "blowing", local(1, 12))
    late = book(town, "blowing", local(1, 16), town.other_instructor)
    night = firing_of(late).cool_at - firing_of(late).last_in_at

    with time_machine.travel(local(1, 15, 55), tick=False):
        move_session(actor=town.other_instructor, session=late, starts_at=local(3, 16))

    firing = firing_of(early)
    assert (firing.at_hold_at, firing.last_in_at) == (local(1, 12), local(1, 15, 55))
    assert firing.cool_at == local(1, 15, 55) + night


def test_heat_that_cannot_be_made_in_time_is_a_duty(one_hole: Town) -> None:
    add_course(one_hole, "half an hour", one_hole.hot_shop, "studio-96", BLOWING, minutes=30)
    first = book(one_hole, "half an hour", local(1, 12))
    book(one_hole, "half an hour", local(1, 12, 30), one_hole.other_instructor)

    with time_machine.travel(local(1, 11, 59), tick=False):
        move_session(actor=one_hole.instructor, session=first, starts_at=local(3, 18))

    assert "Light hole 1 early, or keep it hot" in told(one_hole.technician)


def test_it_is_no_duty_where_the_class_still_warms_what_follows(one_hole: Town) -> None:
    add_course(one_hole, "half an hour", one_hole.hot_shop, "studio-96", BLOWING, minutes=30)
    first = book(one_hole, "half an hour", local(1, 12))
    book(one_hole, "half an hour", local(1, 12, 30), one_hole.other_instructor)

    move_session(actor=one_hole.instructor, session=first, starts_at=local(1, 11, 59))

    assert told(one_hole.technician) == []


def test_whoever_minds_what_is_lit_is_told(one_hole: Town) -> None:
    session = book(one_hole, "an hour", local(1, 12))

    with time_machine.travel(local(1, 11, 50), tick=False):
        move_session(actor=one_hole.instructor, session=session, starts_at=local(1, 18))

    body = Message.objects.get(person=one_hole.technician, subject="Moved: an hour").body
    assert "Lit already: annealer 1, hole 1, warmer 1." in body


def test_students_follow_and_are_told_once(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session, torch=town.torches[2])
    Message.objects.all().delete()

    move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    seat.refresh_from_db()
    assert (seat.starts_at, seat.ends_at, seat.sequence) == (local(2, 18), local(2, 21), 1)
    assert (seat.moved_at is not None, seat.number, seat.torch) == (True, 1, town.torches[2])
    assert PersonSpan.objects.get(seat=seat).starts_at == local(2, 18)
    assert told(town.student) == told(town.instructor) == ["Moved: beads"]
    body = Message.objects.get(person=town.student).body
    assert "Tue 4 Mar 2031, 18:00 CST, is moved to Wed 5 Mar 2031, 18:00 CST." in body
    assert "You have seat 1, torch 3." in body


def test_who_is_busy_then_loses_the_seat_and_it_goes_to_the_line(town: Town) -> None:
    session = book(town, "boro", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    WaitingPlace.objects.create(session=session, person=town.other_student)
    torch = town.torches[6]
    reserve_bench_torch(actor=town.student, torch=torch, starts_at=local(2, 19), ends_at=local(2, 20))
    Message.objects.all().delete()

    found = rehearse_move(actor=town.instructor, session=session, starts_at=local(2, 18))
    move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    seat.refresh_from_db()
    assert [each for each, _ in found.losing] == [seat]
    assert seat.status == "cancelled"
    assert "Student already has bench time" in Message.objects.get(person=town.student).body
    offered = WaitingPlace.objects.get(person=town.other_student)
    assert offered.status == LineStatus.OFFERED
    assert offered.seat is not None
    assert offered.seat.starts_at == local(2, 18)
    assert broken() == []


def test_a_seat_that_is_lost_by_a_move_is_noted(town: Town) -> None:
    session = book(town, "boro", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    torch = town.torches[6]
    reserve_bench_torch(actor=town.student, torch=torch, starts_at=local(2, 19), ends_at=local(2, 20))

    move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    entry = AuditEntry.objects.get(did="lose-seat")
    assert (entry.subject, entry.actor) == (seat.uid, town.instructor)
    assert entry.said == "seat 1, torch 1, for Student, boro at Flame, Wed 5 Mar 2031, 18:00 CST"


def test_torches_are_given_anew_where_theirs_are_out(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    stays = reserve_class_seat(actor=town.student, session=session, torch=town.torches[2])
    other = reserve_class_seat(actor=town.other_student, session=session, torch=town.torches[0])
    out(town.torches[0], local(1, 12), local(1, 22))
    Message.objects.all().delete()

    moved = move_session(actor=town.instructor, session=session, starts_at=local(1, 18))

    stays.refresh_from_db()
    other.refresh_from_db()
    assert "torch 1" not in held_by(moved)
    assert stays.torch == town.torches[2]
    assert other.torch is not None
    assert other.torch.name in held_by(moved) - {"torch 3"}
    assert (stays.sequence, other.sequence, other.moved_at) == (0, 1, None)
    assert told(town.student) == []
    assert told(town.other_student) == ["Changed: beads"]


def test_fewer_torches_than_seats_taken_is_a_refusal(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    for person in (town.student, town.other_student):
        reserve_class_seat(actor=person, session=session)
    town.courses["beads"].needs.filter(kind="torch").update(count=1)
    before = every_row()

    with pytest.raises(SeatsDoNotFit, match="beads has 2 seats taken and would have 1 torches there"):
        move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    assert every_row() == before


def test_at_the_same_start_it_takes_what_is_in_order(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    out(town.equipment["hole 1"], local(1, 15), local(1, 20))
    out(town.equipment["annealer 1"], local(1, 20), local(1, 22))

    with time_machine.travel(local(1, 9), tick=False):
        moved = move_session(actor=town.instructor, session=session, starts_at=local(1, 18))

    assert {"hole 2", "bench 2", "warmer 2", "annealer 2"} <= held_by(moved)
    assert held_by(moved).isdisjoint({"hole 1", "annealer 1"})
    assert broken() == []


def test_at_the_same_start_no_notice_is_asked_for(town: Town) -> None:
    session = book(town, "tiles", local(1, 18))
    with time_machine.travel(local(1, 17, 30), tick=False):
        with pytest.raises(NoStart, match="is less than 60 minutes ahead"):
            move_session(actor=town.instructor, session=session, starts_at=local(1, 18, 15))

        assert move_session(actor=town.instructor, session=session, starts_at=local(1, 18)).sequence == 1


def test_a_class_is_given_to_another_instructor(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    Message.objects.all().delete()

    move_session(
        actor=town.manager, session=session, starts_at=local(1, 18), instructor=town.other_instructor
    )

    assert PersonSpan.objects.get(session=session).person == town.other_instructor
    assert told(town.instructor) == told(town.other_instructor) == ["Changed: blowing"]
    assert "taught by Other_Instructor now" in Message.objects.get(person=town.instructor).body


@pytest.mark.parametrize("who", ["student", "technician", "other_instructor"])
def test_only_who_may_call_it_off_may_move_it(town: Town, who: str) -> None:
    session = book(town, "blowing", local(1, 18))

    with pytest.raises(NotAllowed, match="move this class at Hot shop"):
        move_session(actor=town.people[who], session=session, starts_at=local(2, 18))


def test_an_instructor_does_not_give_the_own_class_to_another(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    with pytest.raises(NotAllowed, match="needs the role manager"):
        move_session(
            actor=town.instructor,
            session=session,
            starts_at=local(1, 18),
            instructor=town.other_instructor,
        )


def test_what_has_begun_or_is_called_off_stays(town: Town) -> None:
    begun, gone = book(town, "blowing", local(1, 18)), book(town, "blowing", local(2, 18))
    cancel_session(actor=town.instructor, session=gone)

    with time_machine.travel(local(1, 18), tick=False), pytest.raises(Over, match="has begun"):
        move_session(actor=town.instructor, session=begun, starts_at=local(3, 18))
    with pytest.raises(Over, match="is called off"):
        move_session(actor=town.instructor, session=gone, starts_at=local(3, 18))
    with pytest.raises(InvalidInput, match="without seconds"):
        rehearse_move(actor=town.instructor, session=begun, starts_at=local(3, 18) + dt.timedelta(seconds=1))


def test_a_move_is_noted(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    entry = AuditEntry.objects.get(did="move")
    assert entry.subject == session.uid
    assert entry.said == ("blowing at Hot shop, Tue 4 Mar 2031, 18:00 CST to Wed 5 Mar 2031, 18:00 CST")


def test_a_kept_seat_follows_and_is_kept_no_longer_than_until_the_class(town: Town) -> None:
    session = book(town, "blowing", local(3, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    PersonSpan.objects.filter(seat=seat).delete()
    Seat.objects.filter(pk=seat.pk).update(status="kept", kept_until=local(2, 18))

    move_session(actor=town.instructor, session=session, starts_at=local(1, 18))

    seat.refresh_from_db()
    assert (seat.status, seat.kept_until, seat.starts_at) == ("kept", local(1, 18), local(1, 18))
    assert not PersonSpan.objects.filter(seat=seat).exists()
