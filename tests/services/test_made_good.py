"""Cancellations and outages in every order: what is left is true and safe, and duties are told."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core.mail import EmailMessage

from scheduling.errors import InvalidInput, NoStart, PersonBusy, SeatTaken
from scheduling.models import Booking, CourseNeed, Message, Occupancy, Outage, Session, SupplyUse
from scheduling.selectors.options import Option, examine
from scheduling.services.cancelling import cancel_session
from scheduling.services.messages import deliver_messages, tell
from scheduling.services.outages import enter_outage
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Draw, Equipment, StaffedHours, Supply
from tests.services.test_booking import book, firing_of
from tests.services.test_heat import cold_lead, hole, lead_min
from tests.worlds import Town, add_course, local, sign_off

pytestmark = pytest.mark.django_db
BLOWING = {"furnace": 1, "glory-hole": 1, "annealer": 1}


@pytest.fixture
def one_hole(town: Town) -> Town:
    """The town with one glory hole, and a class of an hour."""
    town.equipment["hole 2"].delete()
    add_course(town, "an hour", town.hot_shop, "studio-96", BLOWING, minutes=60)
    return town


def out(equipment: Equipment, begin: dt.datetime, end: dt.datetime) -> Outage:
    """Equipment is out of use."""
    return Outage.objects.create(equipment=equipment, starts_at=begin, ends_at=end, reason="repair")


def told(town: Town) -> list[str]:
    """What the technician was told."""
    return list(Message.objects.filter(person=town.technician).values_list("subject", flat=True))


def test_a_firing_that_is_hot_does_not_soak_in_the_past(one_hole: Town) -> None:
    first = book(one_hole, "an hour", local(1, 12))
    second = book(one_hole, "an hour", local(1, 16), one_hole.other_instructor)
    night = firing_of(second).cool_at - firing_of(second).last_in_at

    with time_machine.travel(local(1, 15, 55), tick=False):
        cancel_session(actor=one_hole.other_instructor, session=second)

    firing = firing_of(first)
    assert firing.last_in_at == local(1, 15, 55)
    assert firing.cool_at == local(1, 15, 55) + night
    assert firing.at_hold_at == local(1, 12)


def test_nothing_is_lit_in_the_past(town: Town) -> None:
    with time_machine.travel(local(1, 12), tick=False):
        with pytest.raises(NoStart, match=r"annealer 1 must be lit at Tue 4 Mar 07:58 .* that is past"):
            book(town, "blowing", local(1, 13, 1))
        book(town, "blowing", local(1, 20))


def test_a_firing_is_not_joined_before_it_can_be_lit(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    with time_machine.travel(local(1, 12), tick=False):
        book(town, "blowing", local(1, 18))
        with pytest.raises(NoStart, match="that is past"):
            book(town, "blowing", local(1, 14), town.other_instructor)


def test_what_leant_on_a_session_called_off_too_late_is_kept_hot(one_hole: Town) -> None:
    add_course(one_hole, "half an hour", one_hole.hot_shop, "studio-96", BLOWING, minutes=30)
    first = book(one_hole, "half an hour", local(1, 12))
    second = book(one_hole, "half an hour", local(1, 12, 30), one_hole.other_instructor)

    with time_machine.travel(local(1, 11, 59), tick=False):
        cancel_session(actor=one_hole.instructor, session=first)

    assert hole(second).exclusive_from == local(1, 11, 59)
    assert hole(second).phases.all()[0].kind == "holding"
    assert "Light hole 1 early, or keep it hot" in told(one_hole)


def test_a_short_outage_between_sessions_stops_no_cancellation(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 12))
    book(one_hole, "an hour", local(1, 13, 20), one_hole.other_instructor)
    last = book(one_hole, "an hour", local(1, 14, 20))
    out(one_hole.equipment["hole 1"], local(1, 13), local(1, 13, 5))

    cancel_session(actor=one_hole.instructor, session=last)
    book(one_hole, "an hour", local(1, 16))

    middle = Session.objects.get(starts_at=local(1, 13, 20))
    assert hole(middle).exclusive_from == local(1, 13, 5)


def test_a_glory_hole_is_not_lit_while_it_is_out_of_use(one_hole: Town) -> None:
    book(one_hole, "an hour", local(1, 12))
    out(one_hole.equipment["hole 1"], local(1, 9), local(1, 14))

    with pytest.raises(NoStart, match=r"hole 1 is out of use \(repair\) until Tue 4 Mar 14:00"):
        book(one_hole, "an hour", local(1, 14, 13))
    later = book(one_hole, "an hour", local(1, 15, 14))
    assert lead_min(later) >= cold_lead()


def test_a_class_has_one_annealer_and_a_glory_hole_brings_its_bench(town: Town) -> None:
    course = add_course(town, "with bench", town.hot_shop, "studio-96", {**BLOWING, "bench": 1})
    sign_off(town.instructor, town.hot_shop, ["bench"])

    session = book(town, course.name, local(1, 18))

    assert session.booking.occupancies.filter(equipment__kind="bench").count() == 1
    with pytest.raises(Exception, match="need_one_firing"):
        CourseNeed.objects.create(course=town.courses["tiles"], kind="annealer", count=2)


def test_equipment_taken_out_of_the_books_stops_no_cancellation(town: Town) -> None:
    first = book(town, "blowing", local(1, 14))
    second = book(town, "blowing", local(1, 18), town.other_instructor)
    Equipment.objects.filter(name__in=["annealer 1", "hole 1"]).update(active=False)
    town.equipment["hole 1"].thermal_records.all().delete()

    cancel_session(actor=town.other_instructor, session=second)

    assert firing_of(first).last_in_at == local(1, 17)
    assert Booking.objects.filter(status="cancelled").count() == 1


def test_students_need_their_way_between_studios_too(town: Town) -> None:
    book(town, "blowing", local(1, 12))
    torch, end = town.equipment["torch 1"], local(1, 17)

    with pytest.raises(PersonBusy, match=r"blowing at Hot shop .*, and 30 min on the way"):
        reserve_bench_torch(actor=town.instructor, torch=torch, starts_at=local(1, 15, 29), ends_at=end)
    reserve_bench_torch(actor=town.instructor, torch=torch, starts_at=local(1, 15, 30), ends_at=end)


def test_gas_for_one_glory_hole_is_enough_for_two_sessions_in_a_row(one_hole: Town) -> None:
    Supply.objects.filter(name="gas").update(limit=68)
    evening = book(one_hole, "blowing", local(1, 18))

    book(one_hole, "blowing", local(1, 14, 50), one_hole.other_instructor)

    assert lead_min(evening) < cold_lead()
    uses = list(SupplyUse.objects.filter(supply__name="gas"))
    assert all(
        sum(use.amount for use in uses if use.starts_at <= one.starts_at < use.ends_at) <= 68 for one in uses
    )


def test_a_station_that_draws_less_is_taken_where_the_first_would_be_too_much(town: Town) -> None:
    Supply.objects.filter(name="gas").update(limit=40)
    Draw.objects.filter(equipment__name="hole 2", supply__name="gas").update(amount=30)

    session = book(town, "blowing", local(1, 18))

    assert session.booking.occupancies.filter(equipment__name="hole 2").exists()
    offered = examine(
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.other_instructor,
        starts_at=local(2, 18),
    )
    assert isinstance(offered, Option)


def test_an_annealer_that_must_now_be_lit_at_night_is_somebodys_duty(town: Town) -> None:
    town.hot_shop.electric_unattended = False
    town.hot_shop.hold_gap_min = 1440
    town.hot_shop.save()
    town.equipment["annealer 2"].delete()
    StaffedHours.objects.filter(studio=town.hot_shop).update(opens=dt.time(8))
    first = book(town, "blowing", local(1, 14))
    book(town, "blowing", local(2, 10), town.other_instructor)

    cancel_session(actor=town.instructor, session=first)

    assert "Light annealer 1 early, or keep it hot" in told(town)


def test_a_torch_that_is_out_of_use_is_given_to_nobody(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    out(town.equipment["torch 1"], local(1, 8), local(1, 22))

    seat = reserve_class_seat(actor=town.student, session=session)

    assert seat.torch == town.equipment["torch 2"]
    with pytest.raises(SeatTaken, match="torch 1 is taken by an outage"):
        reserve_class_seat(actor=town.other_student, session=session, torch=town.equipment["torch 1"])


def test_somebody_who_has_left_neither_teaches_nor_takes_a_seat(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    town.student.is_active = town.other_instructor.is_active = False
    town.student.save()
    town.other_instructor.save()

    with pytest.raises(Exception, match="Student cannot reserve a seat"):
        reserve_class_seat(actor=town.instructor, session=session, person=town.student)
    with pytest.raises(Exception, match="Other_Instructor cannot teach"):
        book(town, "blowing", local(1, 18), town.other_instructor)


@pytest.mark.parametrize("year", [1, 1999, 2201, 9999])
def test_the_book_has_a_first_and_a_last_year(town: Town, year: int) -> None:
    far = local(1, 18).replace(year=year)

    with pytest.raises(InvalidInput, match="The book goes from 2000 to 2200"):
        book(town, "blowing", far)
    with pytest.raises(InvalidInput, match="The book goes from 2000 to 2200"):
        enter_outage(
            actor=town.technician, equipment=town.equipment["kiln"], starts_at=far, ends_at=far, reason="x"
        )


def test_an_outage_gives_a_reason_that_fits_the_sheet(town: Town) -> None:
    for reason in ("", " ", "x" * 121):
        with pytest.raises(InvalidInput, match="in at most 120 characters"):
            enter_outage(
                actor=town.technician,
                equipment=town.equipment["kiln"],
                starts_at=local(1, 8),
                ends_at=local(1, 9),
                reason=reason,
            )


def test_no_occupancy_is_left_behind(town: Town) -> None:
    sessions = [
        book(town, "blowing", local(1, 14)),
        book(town, "blowing", local(1, 18), town.other_instructor),
        book(town, "blowing", local(2, 18)),
    ]

    for session in sessions:
        cancel_session(actor=session.instructor, session=session)

    assert not Occupancy.objects.exists()
    assert not SupplyUse.objects.exists()


def test_what_is_lit_for_a_class_that_is_called_off_is_to_be_turned_off(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    with time_machine.travel(local(1, 17, 50), tick=False):
        cancel_session(actor=town.instructor, session=session)

    message = Message.objects.get(person=town.technician, subject="Hot, and called off: blowing")
    assert "Lit already: annealer 1, hole 1, warmer 1." in message.body


def test_whoever_is_concerned_is_told_when_somebody_else_calls_off_or_gives_back(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    Message.objects.all().delete()

    cancel_seat(actor=town.instructor, seat=seat)
    cancel_session(actor=town.manager, session=session)

    assert set(Message.objects.values_list("person__email", "subject")) == {
        (town.student.email, "Your seat was given back"),
        (town.instructor.email, "Called off: beads"),
    }


def test_nobody_is_told_of_a_firing_that_does_not_move(town: Town) -> None:
    book(town, "blowing", local(1, 18))
    book(town, "blowing", local(1, 18), town.other_instructor)

    assert not Message.objects.filter(subject__startswith="Firing moved").exists()


def test_gas_is_attended_until_the_program_has_ended(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    Equipment.objects.filter(name="annealer 1").update(gas_fired=True)

    with pytest.raises(NoStart, match=r"annealer 1 burns gas from .*, and nobody is there all that time"):
        book(town, "paperweights", local(1, 18))


def test_a_load_is_no_larger_than_the_seats_at_the_torches(town: Town) -> None:
    town.courses["beads"].seats = 8
    town.courses["beads"].save()

    session = book(town, "beads", local(1, 18))

    assert (session.seats, session.loads.get().pieces, session.loads.get().footprint_cm2) == (5, 5, 100)


def test_equipment_set_up_wrongly_blocks_itself_only(town: Town) -> None:
    Equipment.objects.filter(name="hole 1").update(working_c=1450)

    session = book(town, "blowing", local(1, 18))

    assert session.booking.occupancies.filter(equipment__name="hole 2").exists()


def test_an_address_that_is_dead_for_weeks_stops_nobody_else(
    town: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = tell(person=town.student, subject="old", body="")
    Message.objects.filter(pk=old.pk).update(tries=60)
    monkeypatch.setattr(EmailMessage, "send", _refuse_old)

    tell(person=town.other_student, subject="new", body="")

    deliver_messages()
    assert Message.objects.get(subject="new").sent_at is not None
    assert Message.objects.get(subject="old").tries == 61


def _refuse_old(mail: EmailMessage) -> None:
    if mail.subject == "old":
        raise ConnectionError("no such mailbox")
