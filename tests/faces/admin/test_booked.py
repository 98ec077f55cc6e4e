"""Sessions and seats are booked and taken back in the admin through the services, or refused with reasons."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.contrib.auth.models import Permission
from django.test import Client
from django.urls import reverse

from scheduling.models import (
    Booking,
    Firing,
    Message,
    Occupancy,
    OccupancyPhase,
    PersonSpan,
    Seat,
    Session,
    SupplyUse,
)
from scheduling.services.booking import book_session
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Person
from tests.worlds import Town, local

SESSIONS = "admin:scheduling_session"
SEATS = "admin:scheduling_seat"


@pytest.fixture
def owner(town: Town) -> Client:
    """Whoever runs the server: no role at any studio, every right in the admin."""
    client = Client()
    client.force_login(Person.objects.create_superuser("owner@town.example", "glass", name="Owner"))
    return client


def staff(person: Person, *rights: str) -> Client:
    """Somebody whom the admin lets in, with these rights there."""
    person.is_staff = True
    person.save()
    person.user_permissions.set(Permission.objects.filter(codename__in=rights))
    client = Client()
    client.force_login(person)
    return client


def beads(town: Town, **changes: Any) -> dict[str, Any]:
    """The form for beads on the first Tuesday, 18:00 by the studio's clock."""
    return {
        "course": town.courses["beads"].pk,
        "studio": town.flame.pk,
        "instructor": town.instructor.pk,
        "day": "2031-03-04",
        "time": "18:00",
        **changes,
    }


def booked_beads(town: Town) -> Session:
    return book_session(
        actor=town.instructor,
        course=town.courses["beads"],
        studio=town.flame,
        instructor=town.instructor,
        starts_at=local(1, 18).astimezone(dt.UTC),
    )


def bench_seat(town: Town) -> Seat:
    return reserve_bench_torch(
        actor=town.student, torch=town.torches[0], starts_at=local(1, 11), ends_at=local(1, 12)
    )


def written() -> list[int]:
    """How many rows of everything that a booking writes there are."""
    tables = (Booking, Session, Seat, Firing, Occupancy, OccupancyPhase, SupplyUse, PersonSpan, Message)
    return [table.objects.count() for table in tables]


def test_a_session_is_added_with_all_that_it_holds(owner: Client, town: Town) -> None:
    assert owner.post(reverse(f"{SESSIONS}_add"), beads(town)).status_code == 302

    session = Session.objects.get()
    assert session.starts_at == local(1, 18)
    assert session.booking.booked_by.name == "Owner"
    assert session.booking.occupancies.filter(equipment__kind="torch").count() == 5
    assert session.loads.get().firing.occupancy.phases.exists()
    assert Message.objects.filter(person=town.instructor).exists()


def test_a_refusal_says_every_reason_and_writes_nothing(owner: Client, town: Town) -> None:
    booked_beads(town)
    before = written()

    page = owner.post(reverse(f"{SESSIONS}_add"), beads(town, time="18:30"))

    assert page.status_code == 200
    reasons = page.context["adminform"].form.errors["time"]
    assert len(reasons) >= 2
    assert any("torch" in reason for reason in reasons)
    assert any("Instructor" in reason for reason in reasons)
    assert 'value="18:30"' in page.content.decode()
    assert written() == before


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"day": "2031-03-09", "time": "02:30"}, "time", "the clocks jump over it"),
        ({"day": "0001-01-01"}, "day", "The book goes from"),
        ({"day": "9999-12-31"}, "day", "The book goes from"),
        ({"time": "18:00:30"}, "time", "valid time"),
        ({"course": ""}, "course", "required"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(
    owner: Client, town: Town, changes: dict[str, str], field: str, said: str
) -> None:
    page = owner.post(reverse(f"{SESSIONS}_add"), beads(town, **changes))

    assert said in str(page.context["adminform"].form.errors[field])
    assert not Session.objects.exists()


def test_a_course_that_is_not_taught_there_is_refused_beside_the_course(owner: Client, town: Town) -> None:
    page = owner.post(reverse(f"{SESSIONS}_add"), beads(town, studio=town.hot_shop.pk))

    assert "is not taught at Hot shop" in str(page.context["adminform"].form.errors["course"])


def test_calling_off_by_the_button_frees_everything(owner: Client, town: Town) -> None:
    session = booked_beads(town)
    reserve_class_seat(actor=town.student, session=session)
    page = owner.get(reverse(f"{SESSIONS}_change", args=[session.pk]))
    button = page.context["take_back"]["address"]
    assert f'action="{button}"' in page.content.decode()

    after = owner.post(button, follow=True)

    assert "Called off" in after.content.decode()
    assert not Occupancy.objects.exists()
    assert not PersonSpan.objects.exists()
    assert set(Seat.objects.values_list("status", flat=True)) == {"cancelled"}
    assert button not in after.content.decode()


def test_calling_off_from_the_list_says_which_cannot_be_called_off(owner: Client, town: Town) -> None:
    first = booked_beads(town)
    owner.post(reverse(f"{SESSIONS}_changelist"), {"action": "call_off", "_selected_action": first.pk})
    second = booked_beads(town)

    page = owner.post(
        reverse(f"{SESSIONS}_changelist"),
        {"action": "call_off", "_selected_action": [first.pk, second.pk]},
        follow=True,
    )

    assert "is called off already" in page.content.decode()
    assert set(Session.objects.values_list("status", flat=True)) == {"cancelled"}
    assert not Occupancy.objects.exists()


def test_a_seat_in_a_class_is_added_with_the_torch_asked_for(owner: Client, town: Town) -> None:
    session = booked_beads(town)
    torch = Occupancy.objects.filter(equipment__kind="torch").latest("equipment__number").equipment
    form = {"person": town.student.pk, "session": session.pk, "torch": torch.pk}

    assert owner.post(reverse(f"{SEATS}_add"), form).status_code == 302
    seat = Seat.objects.get()
    assert (seat.person, seat.session, seat.torch) == (town.student, session, torch)

    before = written()
    again = owner.post(reverse(f"{SEATS}_add"), form | {"person": town.other_student.pk})
    assert "is taken in this class" in str(again.context["adminform"].form.errors["torch"])
    assert written() == before


def test_a_torch_in_bench_time_is_added_and_holds_its_oxygen(owner: Client, town: Town) -> None:
    form = {
        "person": town.student.pk,
        "torch": town.torches[2].pk,
        "day": "2031-03-04",
        "starts": "11:00",
        "ends": "12:30",
    }

    assert owner.post(reverse(f"{SEATS}_add"), form).status_code == 302

    seat = Seat.objects.get()
    assert (seat.starts_at, seat.ends_at) == (local(1, 11), local(1, 12, 30))
    assert SupplyUse.objects.get().supply == town.supplies["oxygen"]


@pytest.mark.parametrize(
    ("hours", "field", "said"),
    [
        ({"starts": "07:00", "ends": "08:00"}, "starts", "no open bench time"),
        ({"starts": "11:00", "ends": "11:05"}, "ends", "Bench time lasts from"),
        ({"starts": "11:00", "ends": "11:00"}, "ends", "Bench time lasts from"),
        ({"starts": "11:00", "ends": ""}, "__all__", "a day and both hours"),
        ({"day": "2031-03-08", "starts": "22:00", "ends": "02:30"}, "ends", "the clocks jump over it"),
    ],
)
def test_bench_time_that_cannot_be_had_is_said_beside_its_field(
    owner: Client, town: Town, hours: dict[str, str], field: str, said: str
) -> None:
    form = {"person": town.student.pk, "torch": town.torches[2].pk, "day": "2031-03-04", **hours}

    page = owner.post(reverse(f"{SEATS}_add"), form)

    assert said in str(page.context["adminform"].form.errors[field])
    assert not Seat.objects.exists()
    assert not Booking.objects.exists()


def test_a_class_and_hours_together_are_asked_back(owner: Client, town: Town) -> None:
    form = {"person": town.student.pk, "session": booked_beads(town).pk, "day": "2031-03-04"}

    page = owner.post(reverse(f"{SEATS}_add"), form)

    assert "its own hours" in str(page.context["adminform"].form.errors["session"])
    assert not Seat.objects.exists()


def test_giving_back_by_the_button_and_from_the_list_frees_torch_and_person(
    owner: Client, town: Town
) -> None:
    by_button = bench_seat(town)
    page = owner.get(reverse(f"{SEATS}_change", args=[by_button.pk]))
    owner.post(page.context["take_back"]["address"])
    assert not Occupancy.objects.exists()

    from_list = bench_seat(town)
    owner.post(reverse(f"{SEATS}_changelist"), {"action": "give_back", "_selected_action": from_list.pk})

    assert not Occupancy.objects.exists()
    assert not PersonSpan.objects.exists()
    assert set(Seat.objects.values_list("status", flat=True)) == {"cancelled"}


def test_staff_without_the_right_neither_add_nor_take_back(town: Town) -> None:
    session, seat = booked_beads(town), bench_seat(town)
    before = written()
    client = staff(town.manager, "view_session", "view_seat")

    for name, row, action in ((SESSIONS, session, "call_off"), (SEATS, seat, "give_back")):
        assert client.get(reverse(f"{name}_add")).status_code == 403
        assert client.post(reverse(f"{name}_add"), beads(town)).status_code == 403
        assert client.post(reverse(f"{name}_take_back", args=[row.pk])).status_code == 403
        assert "take_back" not in client.get(reverse(f"{name}_change", args=[row.pk])).context
        client.post(reverse(f"{name}_changelist"), {"action": action, "_selected_action": row.pk})
        row.refresh_from_db()
        assert row.status == "booked"
    assert written() == before


def test_the_right_in_the_admin_alone_does_not_replace_the_role_at_the_studio(town: Town) -> None:
    session = booked_beads(town)
    rights = ("view_session", "add_session", "change_session")

    stranger = staff(town.stranger, *rights)
    page = stranger.post(reverse(f"{SESSIONS}_add"), beads(town, day="2031-03-05"))
    assert page.context["adminform"].form.errors.keys() >= {"course", "studio", "instructor"}
    refused = stranger.post(reverse(f"{SESSIONS}_take_back", args=[session.pk]), follow=True)
    assert "that needs the role manager there" in refused.content.decode()
    assert Session.objects.get().status == "booked"

    manager = staff(town.manager, *rights)
    assert manager.post(reverse(f"{SESSIONS}_add"), beads(town, day="2031-03-05")).status_code == 302
    assert Session.objects.count() == 2


def test_an_instructor_on_the_staff_books_for_themselves_only(town: Town) -> None:
    instructor = staff(town.instructor, "add_session")

    page = instructor.post(reverse(f"{SESSIONS}_add"), beads(town, instructor=town.other_instructor.pk))

    assert "that needs the role manager there" in str(page.context["adminform"].form.errors["instructor"])
    assert not Session.objects.exists()


def test_a_student_on_the_staff_is_offered_nobody_else(town: Town) -> None:
    page = staff(town.student, "add_seat").get(reverse(f"{SEATS}_add"))

    assert list(page.context["adminform"].form.fields["person"].queryset) == [town.student]


def test_a_button_is_pressed_and_not_only_looked_at(owner: Client, town: Town) -> None:
    session = booked_beads(town)

    assert owner.get(reverse(f"{SESSIONS}_take_back", args=[session.pk])).status_code == 405
    assert owner.post(reverse(f"{SESSIONS}_take_back", args=[session.pk + 1])).status_code == 302
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(Person.objects.get(name="Owner"))
    assert strict.post(reverse(f"{SESSIONS}_take_back", args=[session.pk])).status_code == 403
    assert strict.post(reverse(f"{SESSIONS}_add"), beads(town, day="2031-03-05")).status_code == 403
    assert Session.objects.get().status == "booked"


def test_what_is_held_leads_to_the_session_or_the_seat(owner: Client, town: Town) -> None:
    session, seat = booked_beads(town), bench_seat(town)
    to_session = reverse(f"{SESSIONS}_change", args=[session.pk])
    to_seat = reverse(f"{SEATS}_change", args=[seat.pk])

    for booking, address in (
        (Booking.objects.get(session=session), to_session),
        (Booking.objects.get(seat=seat), to_seat),
    ):
        occupancy = Occupancy.objects.filter(booking=booking, supply_uses__isnull=False)[0]
        for row in (booking, occupancy, occupancy.phases.all()[0], occupancy.supply_uses.all()[0]):
            page = owner.get(reverse(f"admin:scheduling_{type(row).__name__.lower()}_change", args=[row.pk]))
            assert f'href="{address}"' in page.content.decode(), row
    firing = session.loads.get().firing
    assert (
        to_session in owner.get(reverse("admin:scheduling_firing_change", args=[firing.pk])).content.decode()
    )
    held = reverse("admin:scheduling_occupancy_change", args=[firing.occupancy.pk])
    assert reverse("admin:scheduling_firing_change", args=[firing.pk]) in owner.get(held).content.decode()
