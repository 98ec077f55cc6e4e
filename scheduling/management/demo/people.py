"""The demo's people, and how they sign in."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.hashers import make_password

from scheduling.management.demo.files import Facts, checked, email_of, read
from studios.models import Membership, Person, Qualification, Studio


@dataclass(frozen=True, kw_only=True)
class SignIn:
    """One line of the list of demo sign-ins."""

    roles: str
    name: str
    email: str


def password() -> str:
    """The one password of every demo sign-in. It is public: it stands in the fixtures."""
    return str(read("people")["password"])


def make_people() -> None:
    """Everybody, with roles and sign-offs. The password is slow to hash on purpose, so it is hashed once."""
    hashed = make_password(password())
    for facts in _everybody():
        _make_person(facts, hashed)


def sign_ins() -> list[SignIn]:
    """Who can sign in, in the order of the file; only people who are really there."""
    known = set(Person.objects.values_list("email", flat=True))
    everybody = [
        SignIn(roles=_roles_in_words(facts), name=facts["name"], email=email_of(facts["key"]))
        for facts in _everybody()
    ]
    return [person for person in everybody if person.email in known]


def _everybody() -> list[Facts]:
    file = read("people")
    students = [
        {"key": key, "name": name, "roles": group["roles"], "signed_off": group["signed_off"]}
        for group in file["students"]
        for key, name in group["people"].items()
    ]
    return [*file["person"], *students]


def _make_person(facts: Facts, hashed: str) -> None:
    administrator = facts.get("administrator", False)
    person = checked(
        Person(
            email=email_of(facts["key"]),
            password=hashed,
            name=facts["name"],
            is_staff=administrator,
            is_superuser=administrator,
        )
    )
    for slug, roles in facts.get("roles", {}).items():
        studio = Studio.objects.get(slug=slug)
        for role in roles:
            checked(Membership(person=person, studio=studio, role=role))
    for slug, kinds in facts.get("signed_off", {}).items():
        studio = Studio.objects.get(slug=slug)
        for kind in kinds:
            checked(Qualification(person=person, studio=studio, kind=kind))


def _roles_in_words(facts: Facts) -> str:
    if facts.get("administrator"):
        return "administrator"
    studios_by_roles: dict[str, list[str]] = {}
    for slug, roles in facts["roles"].items():
        studios_by_roles.setdefault(" and ".join(roles), []).append(slug)
    return "; ".join(f"{roles} at {' and '.join(slugs)}" for roles, slugs in studios_by_roles.items())
