"""Roles are the manager's to confirm, to give and to end, and a service asks for that by itself."""

from __future__ import annotations

import pytest

from scheduling.errors import InvalidInput, NotAllowed
from scheduling.services.accounts import join_studio
from scheduling.services.roles import confirm_role, end_role, give_role
from studios.models import EndedRole, Membership, Person, Role
from tests.worlds import Town

pytestmark = pytest.mark.django_db
OTHERS = ["student", "instructor", "technician", "stranger"]


@pytest.fixture
def row(town: Town) -> Membership:
    return join_studio(person=town.stranger, studio=town.flame)


@pytest.mark.parametrize("who", OTHERS)
def test_nobody_else_changes_a_role(town: Town, row: Membership, who: str) -> None:
    actor = town.people[who]

    with pytest.raises(NotAllowed, match="needs the role manager there"):
        confirm_role(actor=actor, membership=row)
    with pytest.raises(NotAllowed, match="needs the role manager there"):
        end_role(actor=actor, membership=row)
    with pytest.raises(NotAllowed, match="needs the role manager there"):
        give_role(actor=actor, person=town.stranger, studio=town.flame, role=Role.MANAGER)

    row.refresh_from_db()
    assert row.new_since is not None


def test_a_manager_of_another_studio_changes_nothing_here(town: Town, row: Membership) -> None:
    Membership.objects.filter(person=town.manager, studio=town.flame).delete()

    with pytest.raises(NotAllowed):
        end_role(actor=town.manager, membership=row)


def test_a_role_is_given_to_nobody_whom_the_studio_does_not_know(town: Town) -> None:
    with pytest.raises(InvalidInput, match="belongs to Flame"):
        give_role(actor=town.manager, person=town.stranger, studio=town.flame, role=Role.STUDENT)


def test_a_role_that_has_gone_meanwhile_is_not_ended_again(town: Town, row: Membership) -> None:
    copy = Membership.objects.get(pk=row.pk)
    end_role(actor=town.manager, membership=row)

    with pytest.raises(InvalidInput, match="ended already"):
        end_role(actor=town.manager, membership=copy)

    assert EndedRole.objects.count() == 1


def test_who_runs_the_server_ends_any_role(town: Town) -> None:
    owner = Person.objects.create_superuser("owner@town.example", "glass", name="Owner")

    end_role(actor=owner, membership=Membership.objects.get(person=town.manager, studio=town.flame))

    assert not Membership.objects.filter(person=town.manager, studio=town.flame).exists()


def test_whose_role_was_ended_does_not_join_again(town: Town, row: Membership) -> None:
    end_role(actor=town.manager, membership=row)

    with pytest.raises(InvalidInput, match="only its manager gives a new one"):
        join_studio(person=town.stranger, studio=town.flame)
