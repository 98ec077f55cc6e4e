"""A form is carried out once, however often it is sent, and says the same each time."""

from __future__ import annotations

import datetime as dt
import re
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import count
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.test import Client
from django.urls import reverse

from scheduling.models import AuditEntry, FeedKey, Message, RepeatedRequest, Seat, Session
from scheduling.project.settings import BASE_DIR
from scheduling.services.cancelling import cancel_session
from scheduling.services.repeats import ABANDONED_AFTER, KEPT
from scheduling.web.once import WITHOUT
from studios.models import Calibration, Person
from tests.faces.permissions.table import addresses
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Reader, Visit
from tests.logs import cooling_log
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
TEMPLATES = BASE_DIR / "scheduling" / "templates" / "web"
# A form of this page brings the token of the form that is being carried out.
BRINGS_ITS_TOKEN = "being_sent.html"
TOKEN = "wJ8Qn2cV0sLr5tYb7uKd3f"
FRIDAY_SIX = local(4, 18)


def token_of(page: Reader) -> str:
    """The one-time token of the first form of a page."""
    return page.all("input", name="once")[0]["value"]


# Every form has one.


@pytest.mark.parametrize("file", sorted(TEMPLATES.glob("*.html")), ids=lambda file: file.name)
def test_every_form_of_every_template_carries_a_token_or_says_why_not(file: Any) -> None:
    forms = re.findall(r'<form[^>]*method="post".*?</form>', file.read_text(), re.DOTALL)
    bare = [form for form in forms if "{% csrf_token %}{% once %}" not in form]

    leads_to = [re.search(r"action=\"\{% url '([\w-]+)'", form) for form in bare]
    names = {found[1] if found else file.stem.replace("_", "-") for found in leads_to}
    assert names <= set(WITHOUT) or file.name == BRINGS_ITS_TOKEN


def test_those_without_a_token_are_there() -> None:
    assert set(WITHOUT) <= {address.name for address in addresses()}
    assert all(WITHOUT.values())


def test_a_token_is_new_each_time_a_form_is_shown(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    first, second = (token_of(visitor.get("/calendars")) for _ in range(2))

    assert first != second
    assert len(first) >= 16


# Sent twice.


def test_a_form_that_is_sent_twice_is_carried_out_once_and_says_the_same(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    token = token_of(visitor.get("/calendars"))

    pages = [visitor.post("/calendars", label="my phone", once=token) for _ in range(2)]

    assert FeedKey.objects.count() == 1
    assert AuditEntry.objects.filter(did="make-link").count() == len({town.flame, town.hot_shop})
    for page in pages:
        assert "The link is made." in page.words
    assert visitor.last == "/calendars"


def test_the_answer_to_a_repeat_is_the_first_one(town: Town, visit: Visits) -> None:
    session, client = a_class(town), visit(town.student).client
    form = {"once": TOKEN}

    first, second = (client.post(f"/sessions/{session.uid}/seat", form) for _ in range(2))

    assert (first.status_code, first["Location"]) == (302, f"/sessions/{session.uid}")
    assert (second.status_code, second["Location"]) == (302, f"/sessions/{session.uid}")
    assert Seat.objects.count() == 1
    assert Message.objects.filter(person=town.student).count() == 1


def test_back_and_again_with_a_new_form_is_a_new_act(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    for _ in range(2):
        visitor.post("/calendars", label="my phone", once=token_of(visitor.get("/calendars")))

    assert FeedKey.objects.count() == 2


def test_a_page_that_refuses_is_shown_again_as_it_was(town: Town, visit: Visits) -> None:
    """The start is taken; when it is free again the old form still says so, and a new one books it."""
    taken = a_class(town)
    client = visit(town.instructor).client
    wish = "/book?course=blowing&studios=hot-shop&first_day=2031-03-04&last_day=2031-03-05&time=18:00"
    form = {"studio": "hot-shop", "starts_at": local(1, 18).isoformat(), "once": TOKEN}
    first = client.post(wish, form)
    cancel_session(actor=town.instructor, session=taken)

    second = client.post(wish, form)

    assert (first.status_code, second.status_code) == (409, 409)
    assert said(first) == said(second)
    assert "Instructor has blowing" in said(second)
    assert Session.objects.count() == 1
    assert client.post(wish, form | {"once": TOKEN[::-1]}).status_code == 302


def said(response: Any) -> str:
    return Reader(response.content.decode()).words


def test_a_form_that_was_filled_in_badly_is_shown_again_with_what_is_wrong(town: Town, visit: Visits) -> None:
    client = visit(town.student).client

    first, second = (client.post("/calendars", {"label": " ", "once": TOKEN}) for _ in range(2))

    assert (first.status_code, second.status_code) == (400, 400)
    assert said(first) == said(second)
    assert token_of(Reader(first.content.decode())) == token_of(Reader(second.content.decode())) != TOKEN


def test_what_a_service_refuses_with_a_word_on_the_next_page_is_said_again(town: Town, visit: Visits) -> None:
    session, visitor = a_class(town), visit(town.instructor)
    cancel_session(actor=town.instructor, session=session)

    pages = [visitor.post(f"/sessions/{session.uid}/call-off", once=TOKEN) for _ in range(2)]

    for page in pages:
        assert "blowing is called off already." in page.words


def test_a_refusal_leaves_nothing_that_the_page_has_written(
    town: Town, visit: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    def writes_and_refuses(request: Any, _form: Any) -> dict[str, Any]:
        FeedKey.objects.create(person=request.user, label="half")
        return {}

    monkeypatch.setattr("scheduling.web.views.calendars._context", writes_and_refuses)

    response = visit(town.student).client.post("/calendars", {"label": " ", "once": TOKEN})

    assert response.status_code == 400
    assert not FeedKey.objects.exists()


# What is the same form, and what is another.


def test_another_form_under_the_same_token_is_not_carried_out(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    visitor.post("/calendars", label="my phone", once=TOKEN)

    page = visitor.post("/calendars", label="my other phone", once=TOKEN)

    assert visitor.status == 422
    assert "This form was sent before" in page.words
    assert [key.label for key in FeedKey.objects.all()] == ["my phone"]


def test_who_went_back_and_chose_another_torch_sends_it_from_there(town: Town, visit: Visits) -> None:
    """The other torch is a step away, not a form to be filled in again; then the first is free."""
    visitor, first, other = visit(town.student), town.torches[4], town.torches[5]
    wish = {"studio": "flame", "day": "2031-03-05", "starts": "12:00", "ends": "14:00", "once": TOKEN}
    visitor.post("/torches", torch=first.uid, **wish)

    page = visitor.post("/torches", torch=other.uid, **wish)
    again = {field["name"]: field["value"] for field in page.all("input", type="hidden") if field["name"]}
    new = visitor.post("/torches", **again)

    assert "and that stands" in page.words
    assert again["once"] != TOKEN
    assert "torch 6 is kept for you until" in new.words
    assert [seat.torch for seat in Seat.objects.order_by("pk")] == [first, other]


def test_the_way_out_leads_to_the_page_of_the_form_and_nowhere_else(town: Town, visit: Visits) -> None:
    client = visit(town.student).client
    client.post("/calendars", {"label": "a", "once": TOKEN})

    for came_from, leads_to in (
        ("http://testserver/calendars?a=1&b=2", "/calendars?a=1&b=2"),
        ("https://elsewhere.example/calendars", "/"),
        ("", "/"),
    ):
        response = client.post("/calendars", {"label": "b", "once": TOKEN}, headers={"Referer": came_from})
        ways = Reader(response.content.decode()).all("a", href=leads_to)
        assert [way for way in ways if "class" not in way], came_from


def test_neither_bounds_nor_csrf_tokens_make_another_form(town: Town) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(town.student)
    pages = [Reader(client.get("/calendars").content.decode()) for _ in range(2)]
    csrf = [page.all("input", name="csrfmiddlewaretoken")[0]["value"] for page in pages]
    form = {"label": "my phone", "once": TOKEN}
    bounded = "----one\r\nContent-Disposition: form-data; name={!r}\r\n\r\n{}\r\n"
    parts = (form | {"csrfmiddlewaretoken": csrf[0]}).items()
    multipart = "".join(bounded.format(name, value) for name, value in parts).replace("'", '"')

    first = client.generic(
        "POST", "/calendars", f"{multipart}----one--\r\n", "multipart/form-data; boundary=--one"
    )
    second = client.post("/calendars", form | {"csrfmiddlewaretoken": csrf[1]})

    assert csrf[0] != csrf[1]
    assert (first.status_code, second.status_code) == (302, 302)
    assert FeedKey.objects.count() == 1


def test_a_form_without_its_csrf_token_takes_no_place(town: Town) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(town.student)

    assert client.post("/calendars", {"label": "my phone", "once": TOKEN}).status_code == 403
    assert not RepeatedRequest.objects.exists()


def test_no_csrf_token_lies_about_and_the_page_shown_again_has_a_good_one(town: Town) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(town.student)
    good = Reader(client.get("/calendars").content.decode()).all("input", name="csrfmiddlewaretoken")[0]
    form = {"label": " ", "once": TOKEN, "csrfmiddlewaretoken": good["value"]}
    client.post("/calendars", form)
    kept: Any = RepeatedRequest.objects.get().body

    again = Reader(client.post("/calendars", form).content.decode())

    assert {field["value"] for field in Reader(kept["content"]).all("input", name="csrfmiddlewaretoken")} == {
        ""
    }
    new = again.all("input", name="csrfmiddlewaretoken")[-1]["value"]
    answer = client.post("/calendars", {"label": "x", "once": token_of(again), "csrfmiddlewaretoken": new})
    assert answer.status_code == 302


def test_a_file_tells_two_forms_apart(town: Town, visit: Visits) -> None:
    client = visit(town.technician).client
    logs = [cooling_log(2.0), cooling_log(2.0), cooling_log(3.0)]

    answers = [
        client.post(
            f"/equipment/{town.equipment['annealer 1'].uid}",
            {"log": SimpleUploadedFile("night.csv", log.encode()), "once": TOKEN, "ambient_c": "30"},
        )
        for log in logs
    ]

    assert [answer.status_code for answer in answers] == [302, 302, 422]
    assert "Send it as it is now" not in said(answers[2])
    assert answers[0]["Location"] == answers[1]["Location"]
    assert Calibration.objects.count() == 1


def test_two_people_and_a_program_may_use_the_same_name(town: Town, visit: Visits) -> None:
    for person in (town.student, town.other_student):
        assert visit(person).client.post("/calendars", {"label": "a", "once": TOKEN}).status_code == 302
    client = visit(town.student).client
    answer = client.post(
        "/api/feed-keys/", {"label": "b"}, "application/json", headers={"Idempotency-Key": TOKEN}
    )

    assert answer.status_code == 201
    assert FeedKey.objects.count() == 3


def test_no_program_can_name_its_request_like_a_form(town: Town, visit: Visits) -> None:
    client = visit(town.student).client
    client.post("/calendars", {"label": "a", "once": TOKEN})
    name = RepeatedRequest.objects.get().key

    answer = client.post(
        "/api/feed-keys/", {"label": "b"}, "application/json", headers={"Idempotency-Key": name}
    )

    assert answer.status_code == 400


def test_a_token_that_is_none_is_refused(town: Town, visit: Visits) -> None:
    client = visit(town.student).client

    for odd in ("", "short", "a" * 65, "with a blank in the middle", "null\0and more than sixteen"):
        assert client.post("/calendars", {"label": "a", "once": odd}).status_code == 400, odd
    assert not FeedKey.objects.exists()


def test_htmx_and_no_javascript_are_alike(town: Town, visit: Visits) -> None:
    client, form = visit(town.student).client, {"label": "my phone", "once": TOKEN}

    plain = client.post("/calendars", form)
    htmx = client.post("/calendars", form, headers={"HX-Request": "true"})

    assert (plain.status_code, plain["Location"]) == (htmx.status_code, htmx["Location"])
    assert FeedKey.objects.count() == 1


# While it is carried out, and when it goes wrong.


def running(person: Person, client: Client, form: dict[str, str]) -> None:
    """The first sending has begun and is not done: its row says so."""
    client.post("/calendars", form)
    FeedKey.objects.all().delete()
    RepeatedRequest.objects.filter(person=person).update(status_code=None, body=None)


def test_while_the_first_is_carried_out_the_second_is_told_what_to_do(town: Town, visit: Visits) -> None:
    client, form = visit(town.student).client, {"label": "my phone", "once": TOKEN}
    running(town.student, client, form)

    response = client.post("/calendars", form)

    page = Reader(response.content.decode())
    assert (response.status_code, response["Retry-After"]) == (409, "5")
    assert "It is being carried out" in page.words
    asked_again = {field["name"]: field["value"] for field in page.all("input", type="hidden")}
    assert form.items() <= asked_again.items()
    assert not FeedKey.objects.exists()


def test_a_file_is_not_asked_for_again_without_it(town: Town, visit: Visits) -> None:
    client = visit(town.technician).client
    path = f"/equipment/{town.equipment['annealer 1'].uid}"
    client.post(path, {"log": SimpleUploadedFile("a.csv", cooling_log(2.0).encode()), "once": TOKEN})
    RepeatedRequest.objects.update(status_code=None, body=None)

    response = client.post(
        path, {"log": SimpleUploadedFile("a.csv", cooling_log(2.0).encode()), "once": TOKEN}
    )

    assert response.status_code == 409
    assert "open the page afresh and see what came of it" in said(response)


def test_one_that_was_killed_is_carried_out_by_the_next_sending(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        client, form = visit(town.student).client, {"label": "my phone", "once": TOKEN}
        running(town.student, client, form)
        clock.shift(ABANDONED_AFTER)

        assert client.post("/calendars", form).status_code == 302

    assert FeedKey.objects.count() == 1


def test_what_broke_is_not_kept(town: Town, visit: Visits, monkeypatch: pytest.MonkeyPatch) -> None:
    client, form = visit(town.student).client, {"label": "my phone", "once": TOKEN}
    client.raise_request_exception = False
    with monkeypatch.context() as breaking:
        breaking.setattr("scheduling.web.views.calendars.new_feed_key", lambda **_: 1 / 0)
        assert client.post("/calendars", form).status_code == 500

    assert client.post("/calendars", form).status_code == 302
    assert FeedKey.objects.count() == 1


def test_a_page_that_is_not_there_and_one_that_is_not_allowed_stay_so(town: Town, visit: Visits) -> None:
    client = visit(town.student).client

    for path, status in (("/roles/0/end", 404), ("/book", 403)):
        assert [client.post(path, {"once": TOKEN}).status_code for _ in range(2)] == [status, status]
    assert not RepeatedRequest.objects.exists()


def test_who_was_too_slow_writes_nothing_and_does_not_say_that_it_did(
    town: Town, visit: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another copy took the form over while this one was at work."""
    visitor = visit(town.student)

    def taken_over(**_facts: Any) -> None:
        FeedKey.objects.create(person=town.student, label="slow")
        RepeatedRequest.objects.update(created_at=local(0, 9))

    monkeypatch.setattr("scheduling.web.views.calendars.new_feed_key", taken_over)

    response = visitor.client.post("/calendars", {"label": "slow", "once": TOKEN})

    assert response.status_code == 409
    assert not FeedKey.objects.exists()
    assert "The link is made" not in said(response) + visitor.get("/calendars").words


def test_a_deadlock_is_tried_again_and_said_once(
    town: Town, visit: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole form is carried out again, the file read from its beginning."""
    tries = count()

    def again(act: Callable[[], Any]) -> Callable[[], Any]:
        def twice() -> Any:
            next(tries)
            act()
            FeedKey.objects.all().delete()
            return act()

        return twice

    monkeypatch.setattr("scheduling.services.repeats.one_write", again)
    monkeypatch.setattr("scheduling.services.repeats._keep", lambda _claim, answer: answer)
    page = visit(town.student).post("/calendars", label="my phone", once=TOKEN)

    assert next(tries) == 1
    assert page.words.count("The link is made.") == 1


def test_after_48_hours_the_token_is_free_again_whatever_the_clocks_do(town: Town, visit: Visits) -> None:
    """The clocks go forward in between: 48 hours pass, not two days of the calendar."""
    form = {"label": "my phone", "once": TOKEN}
    with time_machine.travel(local(5, 12), tick=False) as clock:
        client = visit(town.student).client
        client.post("/calendars", form)
        clock.move_to(local(7, 12) - dt.timedelta(minutes=1))  # 46 h 59 min
        assert client.post("/calendars", form).status_code == 302
        clock.shift(dt.timedelta(hours=1))
        client.post("/calendars", form)
        assert FeedKey.objects.count() == 1
        clock.shift(dt.timedelta(minutes=2))

        client.post("/calendars", form)

    assert dt.timedelta(hours=48) == KEPT
    assert FeedKey.objects.count() == 2


def test_sign_in_and_sign_out_are_left_alone(town: Town) -> None:
    client = Client()
    form = {"username": town.student.email, "password": "glass", "once": TOKEN}

    assert client.post(reverse("sign-in"), form).status_code == 302
    assert client.post(reverse("sign-out"), {"once": TOKEN}).status_code == 302
    assert not RepeatedRequest.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_eight_clicks_at_once_take_one_seat() -> None:
    town, start = build_town(), threading.Barrier(8)
    session = a_class(town)

    def click(_: int) -> Any:
        client = Client()
        client.force_login(town.student)
        start.wait(timeout=20)
        try:
            return client.post(f"/sessions/{session.uid}/seat", {"once": TOKEN})
        finally:
            connections.close_all()

    with ThreadPoolExecutor(8) as pool:
        statuses = [response.status_code for response in pool.map(click, range(8))]

    assert set(statuses) <= {302, 409}
    assert 302 in statuses
    assert Seat.objects.count() == 1
    assert AuditEntry.objects.filter(actor=town.student).count() == 1
