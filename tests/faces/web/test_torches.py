"""The torch bench: what is free when, what feeds it, and reserving."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import time_machine

from scheduling.models import Outage, Seat, SeatStatus
from studios.models import BenchHours, Equipment, Person, Supply
from tests.faces.web.bookings import a_class, a_seat, a_torch
from tests.faces.web.conftest import Reader, Visit
from tests.faces.web.test_kept_seat import a_text
from tests.services.test_refills import cylinders
from tests.services.test_rooms import a_room
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def hours(**changes: str) -> dict[str, Any]:
    """Wednesday from noon to two at the flame studio."""
    return {"studio": "flame", "day": "2031-03-05", "starts": "12:00", "ends": "14:00"} | changes


def test_the_plan_says_of_each_torch_whether_it_is_free(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)
    Outage.objects.create(
        equipment=town.torches[6], starts_at=local(2, 8), ends_at=local(2, 20), reason="new hose"
    )

    page = visit(town.other_student).get("/torches", **hours())

    assert "6 of 8 torches are free." in page.words
    assert "torch 3 taken until Wed 5 Mar, 14:05" in page.words
    assert "torch 7 out of use: new hose" in page.words
    offered = [button["aria-label"] for button in page.all("button", name="torch")]
    assert offered == [f"Reserve torch {number}" for number in (1, 2, 4, 5, 6, 8)]


def test_oxygen_is_counted_at_its_worst_minute(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)

    page = visit(town.other_student).get("/torches", **hours())

    assert "6 of 30 L/min drawn; enough for 4 more at 6 L/min" in page.words


def test_a_torch_is_reserved_and_stands_among_my_seats(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    form = visitor.post("/torches", **hours(), torch=town.torches[4].uid)
    seat = Seat.objects.get()
    page = visitor.post(f"/my-seats/{seat.uid}/reserve")

    assert "torch 5 is kept for you until" in form.words
    assert (seat.torch, seat.starts_at, seat.ends_at) == (town.torches[4], local(2, 12), local(2, 14))
    assert "torch 5 is yours; it stands among your seats." in page.words
    assert "Wednesday 5 March 2031, 12:00–14:00 Bench time" in page.words


def test_a_second_torch_at_the_same_time_is_refused_in_a_sentence(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)
    visitor = visit(town.student)

    page = visitor.post("/torches", **hours(starts="13:00", ends="15:00"), torch=town.torches[3].uid)

    assert visitor.status == 409
    assert "Student already has bench time" in page.words
    assert page.all("input", name="starts", value="13:00")
    assert Seat.objects.count() == 1


def test_no_more_torches_are_offered_than_the_oxygen_feeds(town: Town, visit: Visits) -> None:
    a_class(town, "beads", local(2, 12))

    page = visit(town.other_student).get("/torches", **hours())

    assert "3 of 8 torches are free. oxygen gives 30 L/min and a torch takes 6: what is left" in page.words
    assert "30 of 30 L/min drawn; none left for another torch" in page.words
    assert not page.all("button", name="torch")


def test_no_more_torches_are_offered_than_the_room_takes_people(town: Town, visit: Visits) -> None:
    a_room(town, "flame room", 2, *(torch.name for torch in town.torches))
    a_torch(town, 3, town.student)

    page = visit(town.other_student).get("/torches", **hours())
    a_torch(town, 4, town.technician)
    full = visit(town.other_student).get("/torches", **hours())

    assert "flame room takes 2 people, so 1 more can sit there." in page.words
    assert "1 of 2 people there; room for 1 more" in page.words
    assert len(page.all("button", name="torch")) == 7
    assert "flame room takes 2 people, and so many are there." in full.words
    assert "2 of 2 people there; nobody more comes in" in full.words
    assert full.all("button", name="torch") == []


def test_outside_open_bench_time_a_torch_comes_with_a_class_only(town: Town, visit: Visits) -> None:
    page = visit(town.student).get("/torches", **hours(starts="08:00", ends="09:00"))

    assert "These hours are not open bench time" in page.words
    assert not page.all("button", name="torch")


def test_an_hour_that_the_clocks_jump_over_is_said_beside_its_field(town: Town, visit: Visits) -> None:
    page = visit(town.student).get("/torches", **hours(day="2031-03-09", starts="02:30", ends="04:00"))

    assert page.all("div", class_="error", id="id_starts_error")
    assert "does not exist in America/Chicago" in page.words


def test_without_a_wish_the_next_open_bench_time_is_shown(town: Town, visit: Visits) -> None:
    BenchHours.objects.exclude(weekday=5).delete()

    with time_machine.travel(local(0, 9), tick=False):
        page = visit(town.student).get("/torches")

    assert page.all("input", name="day", type="date", value="2031-03-08")
    assert page.all("input", name="starts", type="time", value="10:00")


@pytest.mark.parametrize("torch", ["9", "all", "", "6f4e0d4c-3b0c-4f0e-9a64-3c8f6a2f8f11"])
def test_a_torch_that_is_not_there_is_not_found(town: Town, visit: Visits, torch: str) -> None:
    visitor = visit(town.student)

    visitor.post("/torches", **hours(), torch=torch)

    assert visitor.status == 404


def test_a_stranger_sees_no_bench(town: Town, visit: Visits) -> None:
    assert "None of your studios has a torch bench" in visit(town.stranger).get("/torches", **hours()).words


def test_a_supply_is_not_said_to_feed_more_torches_than_are_free(town: Town, visit: Visits) -> None:
    Supply.objects.filter(pk=town.supplies["oxygen"].pk).update(limit=300)
    a_torch(town, 3, town.student)

    page = visit(town.other_student).get("/torches", **hours())

    assert "6 of 300 L/min drawn; enough for 7 more at 6 L/min" in page.words
    assert "7 of 8 torches are free. All of them can be lit at once." in page.words


def test_classes_one_sits_in_or_teaches_are_not_offered(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads", local(2, 17))
    a_seat(session, town.student)
    link = {"href": f"/sessions/{session.uid}"}

    assert visit(town.other_student).get("/torches", **hours()).all("a", **link)
    assert not visit(town.student).get("/torches", **hours()).all("a", **link)
    assert not visit(town.instructor).get("/torches", **hours()).all("a", **link)


def test_where_there_is_no_bench_that_is_said_once(town: Town, visit: Visits) -> None:
    page = visit(town.stranger).get("/torches")

    assert page.words.count("None of your studios has a torch bench") == 1
    assert "No class at the torch" not in page.words


def test_a_day_left_out_is_asked_for(town: Town, visit: Visits) -> None:
    assert "Choose a day." in visit(town.student).get("/torches", **hours(day="")).words


def test_a_bench_torch_given_back_is_called_a_torch(town: Town, visit: Visits) -> None:
    seat = a_torch(town, 3, town.student)

    page = visit(town.student).post(f"/my-seats/{seat.uid}/give-back")

    assert "Torch 3 is free again." in page.words


@pytest.mark.parametrize(
    ("starts", "ends"), [("15:00", "14:00"), ("13:00", "13:05"), ("13:00", "13:00"), ("08:00", "20:01")]
)
def test_bench_time_too_short_or_too_long_is_said_beside_its_end(
    town: Town, visit: Visits, starts: str, ends: str
) -> None:
    visitor = visit(town.student)
    asked = hours(starts=starts, ends=ends)

    for page in (
        visitor.get("/torches", **asked),
        visitor.post("/torches", **asked, torch=town.torches[0].uid),
    ):
        assert page.all("div", class_="error", id="id_ends_error")
        assert "Bench time lasts from 15 minutes to 12 hours; an end before its start is the next day’s." in (
            page.words
        )
        assert not page.all("button", name="torch")
    assert not Seat.objects.exists()


@pytest.mark.parametrize(("starts", "ends"), [("13:00", "13:15"), ("10:00", "22:00"), ("21:00", "00:30")])
def test_bench_time_of_a_quarter_to_twelve_hours_is_shown_also_past_midnight(
    town: Town, visit: Visits, starts: str, ends: str
) -> None:
    page = visit(town.student).get("/torches", **hours(starts=starts, ends=ends))

    assert not page.all("div", class_="error")
    assert page.all("div", class_="bench-plan")


def test_hours_that_have_begun_are_shown_but_not_offered(town: Town, visit: Visits) -> None:
    told = "These hours have begun or are over; choose hours to come."

    with time_machine.travel(local(2, 12, 1), tick=False):
        begun = visit(town.student).get("/torches", **hours())
        to_come = visit(town.student).get("/torches", **hours(starts="12:06"))
    with time_machine.travel(local(3, 9), tick=False):
        past = visit(town.student).get("/torches", **hours())

    assert told in begun.words
    assert told in past.words
    assert not begun.all("button", name="torch") + past.all("button", name="torch")
    assert told not in to_come.words
    assert to_come.all("button", name="torch")


def test_who_is_not_signed_off_for_torches_is_told_and_offered_none(town: Town, visit: Visits) -> None:
    told = "The studio signs people off before they work alone at a torch; ask its manager."
    session = a_class(town, "beads", local(3, 17))

    signed_off = visit(town.student).get("/torches", **hours())
    town.student.qualifications.filter(studio=town.flame, kind="torch").delete()
    alone = visit(town.student).get("/torches", **hours())

    assert told not in signed_off.words
    assert signed_off.all("button", name="torch")
    assert told in alone.words
    assert not alone.all("button", name="torch")
    assert alone.all("a", href=f"/sessions/{session.uid}")


def test_a_sign_off_at_another_studio_does_not_count(town: Town, visit: Visits) -> None:
    town.student.qualifications.update(studio=town.hot_shop)

    assert not visit(town.student).get("/torches", **hours()).all("button", name="torch")


def test_who_has_something_else_in_these_hours_is_offered_no_torch(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)

    page = visit(town.student).get("/torches", **hours(starts="13:00", ends="15:00"))
    after = visit(town.student).get("/torches", **hours(starts="14:00", ends="16:00"))

    assert "In these hours you have a seat or a class already; My seats lists it." in page.words
    assert not page.all("button", name="torch")
    assert after.all("button", name="torch")


def form_of(page: Reader, torch: Equipment) -> dict[str, str]:
    """What the button of one torch sends."""
    names = [(name, one) for name, one in page.elements if name in {"form", "input", "button"}]
    at = next(n for n, (_, one) in enumerate(names) if one.get("value") == str(torch.uid))
    begin = max(n for n, (name, _) in enumerate(names[:at]) if name == "form")
    return {one["name"]: one["value"] for _, one in names[begin + 1 : at + 1] if "name" in one}


def test_going_back_and_taking_another_torch_changes_to_it(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    plan = visitor.get("/torches", **hours())
    visitor.post("/torches", **form_of(plan, town.torches[4]))

    other = visitor.post("/torches", **form_of(plan, town.torches[5]))

    assert visitor.status == 200
    assert "torch 6 is kept for you until" in other.words
    standing = Seat.objects.exclude(status=SeatStatus.CANCELLED)
    assert [seat.torch for seat in standing] == [town.torches[5]]


def test_a_kept_torch_leads_to_its_form_and_the_others_can_be_had_instead(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    visitor.post("/torches", **hours(), torch=town.torches[4].uid)
    seat = Seat.objects.get()

    page = visitor.get("/torches", **hours())

    assert "torch 5 is kept for you until" in page.words
    assert page.all("a", href=f"/my-seats/{seat.uid}/reserve")
    assert page.all("button", aria_label="Take instead: torch 6")
    assert not page.all("button", aria_label="Reserve torch 6")


def test_why_a_free_torch_cannot_be_had_and_the_nearest_hours(town: Town, visit: Visits) -> None:
    for number, person in enumerate((town.instructor, town.other_instructor, town.technician), start=1):
        a_torch(town, number, person)
    Supply.objects.filter(pk=town.supplies["oxygen"].pk).update(limit=18)

    page = visit(town.student).get("/torches", **hours(starts="13:00", ends="15:00"))

    assert "oxygen gives 18 L/min; with this it would have to give 24" in page.words
    assert "beside torch 1, torch 2, torch 3" in page.words
    assert page.words.count("with this it would have to give 24") == 1
    assert page.all("a", href="/torches?studio=flame&day=2031-03-05&starts=14%3A05&ends=16%3A05")


def test_a_supply_says_who_draws_how_much_and_when(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.technician)
    a_class(town, "beads", local(2, 15))

    page = visit(town.student).get("/torches", **hours(starts="12:00", ends="14:00"))

    assert "torch 3 6 L/min, 11:55–14:00" in page.words
    assert "beads 30 L/min, 14:55–18:00" in page.words


def test_what_is_left_in_the_cylinders_is_said_and_refuses(town: Town, visit: Visits) -> None:
    oxygen = cylinders(town, 600)

    enough = visit(town.student).get("/torches", **hours(ends="13:00"))
    too_long = visit(town.student).get("/torches", **hours(ends="14:00"))

    assert f"{oxygen.content:.0f} L of what is there may still be booked" in enough.words
    assert enough.all("button", name="torch")
    assert "oxygen has 600 L left for this and no refill is entered" in too_long.words
    assert not too_long.all("button", name="torch")


def test_the_same_time_on_other_days_is_one_click_away(town: Town, visit: Visits) -> None:
    BenchHours.objects.exclude(weekday__in=(2, 4)).delete()

    page = visit(town.student).get("/torches", **hours())

    link = "/torches?studio=flame&day=2031-03-07&starts=12%3A00&ends=14%3A00"
    assert [one["href"] for one in page.all("a", class_="step")] == [
        link,
        "/torches?studio=flame&day=2031-03-12&starts=12%3A00&ends=14%3A00",
    ]


def test_a_torch_kept_too_often_is_reserved_at_once_with_the_text(town: Town, visit: Visits) -> None:
    a_text(town)
    torch = town.torches[4].uid
    with time_machine.travel(local(0, 9), tick=False):
        visitor = visit(town.student)
        for _ in range(3):
            visitor.post("/torches", **hours(), torch=torch)
            visitor.post(f"/my-seats/{Seat.objects.latest('pk').uid}/let-go")

        page = visitor.post("/torches", **hours(), torch=torch)
        unread = visitor.post("/torches", **hours(), torch=torch, at_once="yes")
        refused = visitor.status
        done = visitor.post("/torches", **hours(), torch=torch, at_once="yes", acknowledged="3")

    assert "booked at once or not at all" in page.words
    assert "Reserve torch 5 at once" in page.words
    assert refused == 409
    assert unread.all("div", class_="error", id="id_acknowledged_error")
    assert "torch 5 is yours; it stands among your seats." in done.words
