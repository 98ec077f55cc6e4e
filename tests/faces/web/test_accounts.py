"""An account from its first mail to its last session."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.contrib.auth.hashers import is_password_usable
from django.core.cache import cache
from django.test import Client
from django.utils import timezone
from rest_framework.authtoken.models import Token

from scheduling.models import Message
from scheduling.services.accounts import forget_unconfirmed
from studios.models import EndedRole, Membership, Person, SignUp
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]

SECRET = "molten-amber-42"
BOTH = {"new_password1": SECRET, "new_password2": SECRET}


@pytest.fixture(autouse=True)
def _nobody_has_tried_yet() -> None:
    """The API counts attempts in the cache besides."""
    cache.clear()


def sign_up(visitor: Visit, email: str = "New.Hand@Town.example", studio: str = "flame") -> Reader:
    return visitor.post("/sign-up", name="New Hand", email=email, studio=studio)


def letters(email: str) -> list[Message]:
    return list(Message.objects.filter(person__email=email).order_by("created_at", "id"))


def link_in(message: Message) -> str:
    """The path of the link with a token in it."""
    (found,) = re.findall(r"http://testserver(/\S+/\S+-[0-9a-f]{32})\s", message.body)
    return str(found)


def confirmed(visitor: Visit, email: str = "new.hand@town.example") -> Reader:
    """Through the mail to a password."""
    sign_up(visitor, email)
    page = visitor.get(link_in(letters(email)[-1]))
    assert visitor.status == 200
    return visitor.post(action_of(visitor, page), **BOTH)


def action_of(visitor: Visit, page: Reader) -> str:
    """Django moves the token out of the address; the form goes back to where it came from."""
    assert page.all("input", name="new_password1")
    return str(visitor.last)


def test_somebody_signs_up_confirms_the_address_and_is_a_student_there(town: Town, visit: Visits) -> None:
    visitor = visit(None)

    said = sign_up(visitor)
    person = Person.objects.get(email="new.hand@town.example")
    assert "Look into your mail" in said.words
    assert not person.is_active
    assert not person.memberships.exists()

    page = confirmed(visitor)

    person = Person.objects.get(pk=person.pk)
    assert person.is_active
    assert person.check_password(SECRET)
    assert [(row.studio, row.role) for row in person.memberships.all()] == [(town.flame, "student")]
    assert not SignUp.objects.exists()
    assert page.all("a", href="/account")  # signed in


def test_nobody_signs_in_before_the_address_is_confirmed(town: Town, visit: Visits) -> None:
    sign_up(visit(None))
    person = Person.objects.get(email="new.hand@town.example")
    assert not is_password_usable(person.password)

    person.set_password(SECRET)
    person.save()

    page = visit(None).post("/sign-in", username=person.email, password=SECRET)
    assert "do not belong together" in page.words


def test_a_link_works_once(town: Town, visit: Visits) -> None:
    visitor = visit(None)
    confirmed(visitor)

    again = visit(None).get(link_in(letters("new.hand@town.example")[0]))

    assert "This link confirms nothing any more" in again.words


def test_a_link_is_good_for_a_day(town: Town, visit: Visits) -> None:
    sign_up(visit(None))
    link = link_in(letters("new.hand@town.example")[0])

    with time_machine.travel(timezone.now() + dt.timedelta(hours=23), tick=False):
        assert visit(None).get(link).all("input", name="new_password1")
    with time_machine.travel(timezone.now() + dt.timedelta(hours=25), tick=False):
        assert "confirms nothing any more" in visit(None).get(link).words


def test_the_password_is_chosen_behind_the_link_so_nobody_prepares_an_account_for_another(
    town: Town, visit: Visits
) -> None:
    page = visit(None).get("/sign-up")

    assert not page.all("input", type="password")


@pytest.mark.parametrize("email", ["student@town.example", "STUDENT@town.example", "nobody@town.example"])
def test_an_address_that_is_known_gets_the_same_page(town: Town, visit: Visits, email: str) -> None:
    asked, forgot = visit(None), visit(None)

    signed, sent = sign_up(asked, email), forgot.post("/password/forgotten", email=email)

    fresh = sign_up(visit(None), "quite.new@town.example")
    assert signed.words == sent.words == fresh.words
    assert asked.status == forgot.status == 200


def test_the_mail_alone_says_that_an_address_is_known_and_nothing_changes(town: Town, visit: Visits) -> None:
    before = Person.objects.count()

    sign_up(visit(None), "Student@town.example")

    (letter,) = letters("student@town.example")
    assert letter.subject == "Lehrbook: you have an account already"
    assert "http://testserver/sign-in" in letter.body
    assert Person.objects.count() == before
    assert Person.objects.get(pk=town.student.pk).name == town.student.name
    assert not Message.objects.exclude(pk=letter.pk).exists()


def test_no_mail_repeats_what_a_stranger_typed_as_a_name(town: Town, visit: Visits) -> None:
    visit(None).post("/sign-up", name="Win at bad.example", email="new@town.example", studio="flame")

    assert "bad.example" not in letters("new@town.example")[0].body


def test_a_closed_account_is_not_opened_by_signing_up_or_by_forgetting(town: Town, visit: Visits) -> None:
    Person.objects.filter(pk=town.student.pk).update(is_active=False)

    sign_up(visit(None), "student@town.example")
    visit(None).post("/password/forgotten", email="student@town.example")

    (letter,) = letters("student@town.example")
    assert "closed" in letter.body
    assert "http" not in letter.body


def test_asking_again_and_again_fills_nobody_s_mailbox(town: Town, visit: Visits) -> None:
    with time_machine.travel(dt.datetime(2031, 3, 3, 12, 10, tzinfo=dt.UTC), tick=False):
        for _ in range(5):
            sign_up(visit(None), "student@town.example")
            visit(None).post("/password/forgotten", email="student@town.example")
            sign_up(visit(None), "other@town.example")
    assert (len(letters("student@town.example")), len(letters("other@town.example"))) == (2, 1)

    with time_machine.travel(dt.datetime(2031, 3, 3, 13, 1, tzinfo=dt.UTC), tick=False):
        sign_up(visit(None), "student@town.example")
    assert len(letters("student@town.example")) == 3


def test_until_it_is_confirmed_what_was_given_last_stands(town: Town, visit: Visits) -> None:
    visitor = visit(None)
    sign_up(visitor, studio="flame")

    visitor.post("/sign-up", name="Better Name", email="new.hand@town.example", studio="hot-shop")

    assert SignUp.objects.get().studio == town.hot_shop
    assert Person.objects.get(email="new.hand@town.example").name == "Better Name"
    assert "Hot shop" in letters("new.hand@town.example")[-1].body


def test_who_forgets_the_password_before_confirming_is_sent_the_confirmation(
    town: Town, visit: Visits
) -> None:
    sign_up(visit(None))
    Message.objects.all().delete()

    visit(None).post("/password/forgotten", email="new.hand@town.example")

    assert letters("new.hand@town.example")[0].subject == "Lehrbook: confirm your address"


def test_addresses_that_nobody_confirms_are_forgotten(town: Town, visit: Visits) -> None:
    sign_up(visit(None))
    assert forget_unconfirmed() == 0

    with time_machine.travel(timezone.now() + dt.timedelta(days=3), tick=False):
        assert forget_unconfirmed() == 1

    assert not Person.objects.filter(email="new.hand@town.example").exists()
    assert Person.objects.filter(pk=town.student.pk).exists()


def test_a_new_password_by_mail_ends_sessions_and_tokens(town: Town, visit: Visits) -> None:
    elsewhere, visitor = visit(town.student), visit(None)
    Token.objects.create(user=town.student)
    visitor.post("/password/forgotten", email="student@town.example")
    page = visitor.get(link_in(letters("student@town.example")[0]))

    done = visitor.post(action_of(visitor, page), **BOTH)

    assert "The new password stands" in done.words
    assert elsewhere.get("/").all("input", name="password")
    assert not Token.objects.exists()
    assert visitor.post("/sign-in", username="student@town.example", password=SECRET).all(
        "a", href="/account"
    )
    assert letters("student@town.example")[-1].subject == "Lehrbook: your password was changed"


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("amber", "amber", "too short"),
        ("password1", "password1", "too common"),
        ("student@town.example", "student@town.example", "too similar"),
        (SECRET, "molten-amber-43", "The two passwords differ"),
        ("", "", "Write the password"),
    ],
)
def test_a_weak_or_mistyped_password_is_refused_beside_its_field(
    town: Town, visit: Visits, first: str, second: str, said: str
) -> None:
    visitor = visit(None)
    visitor.post("/password/forgotten", email="student@town.example")
    page = visitor.get(link_in(letters("student@town.example")[0]))

    refused = visitor.post(action_of(visitor, page), new_password1=first, new_password2=second)

    assert said in refused.words
    assert Person.objects.get(pk=town.student.pk).check_password("glass")


def test_a_password_is_changed_by_who_knows_it_and_this_device_stays_signed_in(
    town: Town, visit: Visits
) -> None:
    here, elsewhere = visit(town.student), visit(town.student)

    wrong = here.post("/account/password", old_password="brass", **BOTH)
    right = here.post("/account/password", old_password="glass", **BOTH)

    assert "This is not your password" in wrong.words
    assert "every other device is signed out" in right.words
    assert here.get("/account").all("h1")
    assert elsewhere.get("/").all("input", name="password")


def test_signing_out_everywhere_ends_every_session_and_the_token_of_that_person_alone(
    town: Town, visit: Visits
) -> None:
    here, phone, other = visit(town.student), visit(town.student), visit(town.instructor)
    token = Token.objects.create(user=town.student)
    kept = Token.objects.create(user=town.instructor)

    said = here.post("/account/sign-out-everywhere")

    assert "signed out on every device" in said.words
    for visitor in (here, phone):
        assert visitor.get("/").all("input", name="password")
    assert Client(headers={"Authorization": f"Token {token.key}"}).get("/api/me/").status_code == 401
    assert other.get("/").all("a", href="/account")
    assert Token.objects.get() == kept
    assert here.post("/sign-in", username="student@town.example", password="glass").all("a", href="/account")


def test_a_name_is_changed_and_an_empty_one_refused(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    assert "Write your name" in visitor.post("/account/name", name="  ").words
    assert visitor.status == 400
    visitor.post("/account/name", name="  Some \u2028 One ")

    assert Person.objects.get(pk=town.student.pk).name == "Some One"


def test_somebody_with_an_account_becomes_a_student_at_one_more_studio(town: Town, visit: Visits) -> None:
    visitor = visit(town.stranger)

    assert visitor.get("/account").all("option", value="flame")
    visitor.post("/account/studios", studio="flame")
    again = visitor.post("/account/studios", studio="flame")

    row = Membership.objects.get(person=town.stranger)
    assert (row.studio, row.role, row.new_since is not None) == (town.flame, "student", True)
    assert visitor.status == 400
    assert not again.all("option", value="flame")


def test_whose_role_was_ended_does_not_take_it_up_again(town: Town, visit: Visits) -> None:
    EndedRole.objects.create(person=town.stranger, studio=town.flame, role="student")
    visitor = visit(town.stranger)

    visitor.post("/account/studios", studio="flame")

    assert visitor.status == 400
    assert not Membership.objects.filter(person=town.stranger).exists()


def fail(visitor: Visit, times: int, username: str = "student@town.example", **extra: Any) -> Reader:
    page = visitor.get("/sign-in")
    for _ in range(times):
        page = visitor.post("/sign-in", username=username, password="guess")
    return page


def test_passwords_are_not_guessed_by_trying_on_the_page(town: Town, visit: Visits) -> None:
    visitor = visit(None)

    assert "do not belong together" in fail(visitor, 9).words
    page = fail(visitor, 1, "STUDENT@town.example")
    assert (visitor.status, "Too many attempts" in page.words) == (429, True)
    visitor.post("/sign-in", username="student@town.example", password="glass")
    assert visitor.status == 429

    # Others at the same place are not locked out, nor is the person elsewhere, and it passes.
    assert (
        visit(None)
        .post("/sign-in", username="instructor@town.example", password="glass")
        .all("a", href="/account")
    )
    elsewhere = Visit(client=Client(REMOTE_ADDR="192.0.2.7"))
    assert elsewhere.post("/sign-in", username="student@town.example", password="glass").all(
        "a", href="/account"
    )


def test_who_is_locked_out_waits_or_chooses_a_new_password(town: Town, visit: Visits) -> None:
    visitor, patient = visit(None), visit(None)
    fail(visitor, 10)

    with time_machine.travel(timezone.now() + dt.timedelta(minutes=16), tick=False):
        assert patient.post("/sign-in", username="student@town.example", password="glass").all(
            "a", href="/account"
        )

    fail(visitor, 10)
    visitor.post("/password/forgotten", email="student@town.example")
    page = visitor.get(link_in(letters("student@town.example")[0]))
    visitor.post(action_of(visitor, page), **BOTH)
    assert visitor.post("/sign-in", username="student@town.example", password=SECRET).all(
        "a", href="/account"
    )


def test_a_success_begins_the_count_anew(town: Town, visit: Visits) -> None:
    for _ in range(3):
        visitor = visit(None)
        fail(visitor, 9)
        assert visitor.post("/sign-in", username="student@town.example", password="glass").all(
            "a", href="/account"
        )


def test_an_unknown_address_is_locked_out_alike(town: Town, visit: Visits) -> None:
    visitor = visit(None)

    page = fail(visitor, 10, "nobody@town.example")

    assert (visitor.status, "Too many attempts" in page.words) == (429, True)


def test_attempts_by_the_api_and_by_the_admin_count_too(town: Town, visit: Visits) -> None:
    visitor = visit(None)
    for _ in range(5):
        answer = visitor.client.post(
            "/api/token/", {"email": "Student@town.example", "password": "x"}, content_type="application/json"
        )
        assert answer.status_code == 401
    for _ in range(5):
        visitor.client.post("/admin/login/", {"username": "student@town.example", "password": "x"})

    visitor.post("/sign-in", username="student@town.example", password="glass")
    assert visitor.status == 429
    answer = visitor.client.post(
        "/api/token/", {"email": "student@town.example", "password": "glass"}, content_type="application/json"
    )
    assert (answer.status_code, answer.json()["code"]) == (429, "throttled")
    assert answer.headers["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("path", ["/sign-up", "/password/forgotten"])
@pytest.mark.parametrize("email", ["", "no address", "a\0@town.example", "x" * 400 + "@town.example"])
def test_what_is_no_address_is_said_beside_its_field(
    town: Town, visit: Visits, path: str, email: str
) -> None:
    page = visit(None).post(path, name="N", email=email, studio="flame")

    assert page.all("div", class_="error")
    assert not Message.objects.exists()


@pytest.mark.parametrize(
    "key", ["MQ/x-y", "%00/%00", "MTAwMDAwMDAwMDAwMDAwMDAwMDAwMDAw/a-b", "MQ/set-password"]
)
@pytest.mark.parametrize("where", ["sign-up", "password"])
def test_links_that_nobody_mailed_lead_nowhere(town: Town, visit: Visits, where: str, key: str) -> None:
    page = visit(None).get(f"/{where}/{key}")

    assert "any more" in page.words


def test_a_confirmation_is_no_way_to_a_new_password_and_the_other_way_round(
    town: Town, visit: Visits
) -> None:
    sign_up(visit(None))
    visit(None).post("/password/forgotten", email="student@town.example")
    confirming, changing = (
        link_in(letters(email)[0]) for email in ("new.hand@town.example", "student@town.example")
    )

    swapped = [
        confirming.replace("/sign-up/", "/password/"),
        changing.replace("/password/", "/sign-up/"),
    ]

    for link in swapped:
        assert "any more" in visit(None).get(link).words
