"""A manager keeps the people of a studio: confirms new roles, gives further ones, ends them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scheduling.models import Message, Seat
from scheduling.services.accounts import join_studio
from studios.models import EndedRole, Membership, Person
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Visit
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def role_of(person: Person, studio: str = "flame", role: str = "student") -> Membership:
    return Membership.objects.get(person=person, studio__slug=studio, role=role)


def test_who_has_just_joined_stands_first_until_the_manager_confirms(town: Town, visit: Visits) -> None:
    row = join_studio(person=town.stranger, studio=town.flame)
    visitor = visit(town.manager)

    page = visitor.get("/people?studio=flame")
    assert page.words.index("Stranger new") < page.words.index("Instructor")
    page = visitor.post(f"/roles/{row.pk}/confirm")

    assert "Stranger is confirmed as student at Flame" in page.words
    assert "Stranger new" not in page.words
    assert role_of(town.stranger).new_since is None


def test_a_role_that_ends_is_kept_told_and_counts_no_longer(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    a_seat(session, town.student)
    row = role_of(town.student)
    visitor = visit(town.manager)
    assert "1 seat" in visitor.get("/people?studio=flame").words

    page = visitor.post(f"/roles/{row.pk}/end")

    assert "Student is no longer student at Flame" in page.words
    assert not Membership.objects.filter(pk=row.pk).exists()
    ended = EndedRole.objects.get()
    assert (ended.person, ended.studio, ended.role, ended.ended_by) == (
        town.student,
        town.flame,
        "student",
        town.manager,
    )
    assert Message.objects.get(person=town.student, subject="Your roles at Flame").body == (
        "You are no longer student at Flame.\n"
    )
    student = visit(town.student)
    student.get(f"/sessions/{session.uid}")
    assert student.status == 404
    assert Seat.objects.get(person=town.student).status == "booked"  # it stands until it is given back


def test_a_role_ended_twice_is_a_sentence(town: Town, visit: Visits) -> None:
    row, visitor = role_of(town.student), visit(town.manager)
    visitor.post(f"/roles/{row.pk}/end")

    visitor.post(f"/roles/{row.pk}/end")

    assert visitor.status == 404
    assert EndedRole.objects.count() == 1


def test_managers_do_not_end_their_own_role(town: Town, visit: Visits) -> None:
    own = role_of(town.manager, role="manager")
    visitor = visit(town.manager)

    assert not visitor.get("/people").all("form", action=f"/roles/{own.pk}/end")
    page = visitor.post(f"/roles/{own.pk}/end")

    assert "ended by another manager" in page.words
    assert Membership.objects.filter(pk=own.pk).exists()


def test_a_further_role_goes_to_somebody_whom_the_studio_knows(town: Town, visit: Visits) -> None:
    visitor = visit(town.manager)

    given = visitor.post("/people/flame/roles", person=str(town.student.uid), role="technician")
    assert "Student is technician at Flame" in given.words
    again = visitor.post("/people/flame/roles", person=str(town.student.uid), role="technician")
    assert "is technician at Flame already" in again.words
    unknown = visitor.post("/people/flame/roles", person=str(town.stranger.uid), role="student")

    assert (visitor.status, "Choose a person." in unknown.words) == (400, True)
    assert role_of(town.student, role="technician").new_since is None


def test_a_person_whose_role_was_ended_gets_a_new_one_from_the_manager(town: Town, visit: Visits) -> None:
    visitor = visit(town.manager)
    visitor.post(f"/roles/{role_of(town.student).pk}/end")

    visitor.post("/people/flame/roles", person=str(town.student.uid), role="student")

    assert role_of(town.student).new_since is None


@pytest.mark.parametrize("role", ["", "owner", "\0"])
def test_no_such_role(town: Town, visit: Visits, role: str) -> None:
    visitor = visit(town.manager)

    page = visitor.post("/people/flame/roles", person=str(town.student.uid), role=role)

    assert visitor.status == 400
    assert page.all("div", class_="error")


@pytest.mark.parametrize("path", ["/roles/0/end", "/roles/99999999999999999999999999/confirm"])
def test_a_role_that_is_not_there(town: Town, visit: Visits, path: str) -> None:
    visitor = visit(town.manager)

    visitor.post(path)

    assert visitor.status == 404


def test_the_way_to_the_people_is_shown_to_managers(town: Town, visit: Visits) -> None:
    assert visit(town.manager).get("/").all("a", href="/people")
    assert not visit(town.technician).get("/").all("a", href="/people")
