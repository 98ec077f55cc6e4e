"""Calendar files over HTTP."""

from __future__ import annotations

import datetime as dt
import gzip
import re

import pytest
import time_machine
from django.db import connection
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scheduling.feeds import views
from scheduling.models import FeedForm, FeedKey, Session
from scheduling.services.calendars import new_feed_key, withdraw_feed_key
from studios.models import Term
from tests.faces.feeds import rows
from tests.faces.feeds.conftest import EVENING, Night
from tests.faces.feeds.readers import READERS

NOON = EVENING - dt.timedelta(hours=6)
FORM = FeedForm.ICALENDAR


@pytest.fixture
def key(night: Night) -> FeedKey:
    return new_feed_key(actor=night.instructor, label="my phone")


@pytest.fixture
def address(key: FeedKey) -> str:
    return reverse("feed", args=[key.key])


@time_machine.travel(NOON, tick=False)
def test_a_secret_link_shows_the_calendar_to_whoever_has_it(client: Client, address: str) -> None:
    response = client.get(address)

    assert response.status_code == 200
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert response["Cache-Control"] == "private, no-cache"
    assert response["Content-Disposition"] == 'inline; filename="lehrbook.ics"'
    assert "Cookie" not in response.get("Vary", "")


@time_machine.travel(NOON, tick=False)
@pytest.mark.parametrize("reader", READERS)
def test_every_reader_sees_the_same_week(client: Client, address: str, reader: object) -> None:
    assert callable(reader)
    seen = [(each.title, each.starts_at, each.ends_at) for each in reader(client.get(address).content)]

    last_in, unload = EVENING + 3 * rows.HOUR, EVENING + 15 * rows.HOUR + 40 * rows.MINUTE
    assert seen == [
        ("Evening blowing", EVENING, last_in),
        ("Anneal: Annealer 1", last_in, unload),
        ("Unload Annealer 1", unload, unload + 20 * rows.MINUTE),
    ]


@time_machine.travel(NOON, tick=False)
def test_every_event_leads_to_its_page(client: Client, address: str, night: Night) -> None:
    unfolded = client.get(address).content.decode().replace("\r\n ", "")

    links = re.findall(r"\r\nURL:http://testserver(\S+)", unfolded)

    session, firing = reverse("session", args=[night.session.uid]), reverse("firing", args=[night.firing.uid])
    assert links == [reverse("week"), session, firing, firing]


@time_machine.travel(NOON, tick=False)
def test_no_address_or_name_of_another_person_leaves_by_a_link(client: Client, address: str) -> None:
    content = client.get(address).content
    assert b"@" not in content
    assert b"Juni" not in content


@pytest.mark.parametrize(
    ("key", "queries"), [("nothing", 0), ("y" * 500, 0), ("x" * 42 + "é", 0), ("x" * 43, 1)]
)
@pytest.mark.parametrize("form", FeedForm.values)
def test_a_wrong_key_costs_one_query_and_what_cannot_be_one_none(
    client: Client, db: None, key: str, queries: int, form: str
) -> None:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(f"/calendars/{key}.{form}").status_code == 404
    assert len(asked) == queries


def test_a_withdrawn_key_is_not_found(client: Client, night: Night, key: FeedKey, address: str) -> None:
    assert client.get(address).status_code == 200
    withdraw_feed_key(actor=night.instructor, feed_key=key)
    assert client.get(address).status_code == 404


def test_the_key_of_somebody_who_left_is_not_found(client: Client, night: Night, address: str) -> None:
    night.instructor.is_active = False
    night.instructor.save()
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "PROPFIND", "OPTIONS"])
@pytest.mark.parametrize("checked", [False, True])
def test_a_calendar_is_only_read(address: str, method: str, *, checked: bool) -> None:
    """A program that would write is told what it may do, and not that it is no form of ours."""
    client = Client(enforce_csrf_checks=checked)
    one = "1b4e28ba-2fa1-11d2-883f-0016d3cca427"
    files = [f"/calendars/{name}.ics" for name in ("week/2027-W10", f"seat/{one}", f"class/{one}")]
    for path in (address, *files):
        response = client.generic(method, path)
        assert (response.status_code, response["Allow"]) == (405, "GET, HEAD")


@time_machine.travel(NOON, tick=False)
def test_asking_for_the_head_gives_the_same_head(client: Client, address: str) -> None:
    whole, head = client.get(address), client.head(address)

    assert head.status_code == 200
    assert head.content == b""
    assert head["Content-Length"] == str(len(whole.content))
    assert head.headers == whole.headers


def test_the_answer_to_a_head_request_carries_no_body_on_any_server(rf: RequestFactory, key: FeedKey) -> None:
    """Django leaves it to the server to drop the body, and not every server does."""
    head, whole = (views.feed(ask("/"), key=key.key, form=FORM) for ask in (rf.head, rf.get))
    assert isinstance(head, HttpResponse)
    assert isinstance(whole, HttpResponse)
    assert (head.content, head["Content-Length"]) == (b"", str(len(whole.content)))


def test_whoever_holds_the_bytes_gets_no_second_copy(client: Client, address: str) -> None:
    with time_machine.travel(NOON, tick=False):
        first = client.get(address)
    with time_machine.travel(NOON + dt.timedelta(hours=3), tick=False):
        again = client.get(address, headers={"if-none-match": f'"other", {first["ETag"]}'})
        other = client.get(address, headers={"if-none-match": '"other"'})

    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    assert again["Cache-Control"] == "private, no-cache"
    assert (other.status_code, other.content) == (200, first.content)
    assert not first["ETag"].startswith("W/")


@time_machine.travel(NOON, tick=False)
def test_whoever_holds_the_bytes_is_not_told_that_they_have_none(client: Client, address: str) -> None:
    unchanged = client.get(address, headers={"if-none-match": client.get(address)["ETag"]})

    assert (unchanged.status_code, unchanged.content) == (304, b"")
    assert "Content-Length" not in unchanged


def test_a_moved_class_changes_the_tag(client: Client, address: str) -> None:
    before = client.get(address)
    Session.objects.update(starts_at=EVENING - rows.HOUR, sequence=1)

    after = client.get(address, headers={"if-none-match": before["ETag"]})

    assert after.status_code == 200
    assert after["ETag"] != before["ETag"]


def test_the_day_of_last_use_is_written_once_a_day(client: Client, key: FeedKey, address: str) -> None:
    def writes_at(now: dt.datetime) -> int:
        with time_machine.travel(now, tick=False), CaptureQueriesContext(connection) as queries:
            client.get(address)
        return sum(query["sql"].startswith('UPDATE "scheduling_feedkey"') for query in queries)

    assert [writes_at(NOON), writes_at(NOON), writes_at(NOON + dt.timedelta(days=1))] == [1, 0, 1]
    key.refresh_from_db()
    assert key.last_used_on == NOON.date() + dt.timedelta(days=1)


def test_one_week_is_a_file_to_keep(client: Client, night: Night) -> None:
    client.force_login(night.student)

    response = client.get(reverse("week-file", args=[2027, 10]))

    assert response["Content-Disposition"] == 'attachment; filename="lehrbook-2027-W10.ics"'
    assert response["Cache-Control"] == "private, no-cache"
    titles = [each.title for each in READERS[0](response.content)]
    assert titles == ["Evening blowing, seat 1", "Pieces ready to collect"]


def test_one_month_is_a_file_to_keep(client: Client, night: Night) -> None:
    """The night after the last evening of a month stands in both."""
    client.force_login(night.instructor)
    last = rows.session(night.session.course, night.studio, night.instructor, EVENING + dt.timedelta(days=18))
    rows.firing(night.annealer, last, cool=12 * rows.HOUR, unload=13 * rows.HOUR)

    march, april = (client.get(reverse("month-file", args=[2027, month])) for month in (3, 4))

    assert march["Content-Disposition"] == 'attachment; filename="lehrbook-2027-03.ics"'
    night_of = ["Evening blowing", "Anneal: Annealer 1"]
    titles = [[seen.title for seen in READERS[0](file.content)] for file in (march, april)]
    assert titles == [[*night_of, "Unload Annealer 1", *night_of], [night_of[1], "Unload Annealer 1"]]


@pytest.mark.parametrize("month", ["2027-00", "2027-13", "1999-12", "2201-01", "2027-3"])
def test_a_month_that_is_none_or_outside_the_book_is_not_found(
    client: Client, night: Night, month: str
) -> None:
    client.force_login(night.student)
    assert client.get(f"/calendars/month/{month}.ics").status_code == 404


def test_one_term_is_a_file_to_keep_for_those_of_its_studio(client: Client, night: Night) -> None:
    day = EVENING.astimezone(night.studio.zone).date()
    term = Term.objects.create(studio=night.studio, name="Spring", first_day=day, last_day=day)
    address = reverse("term-file", args=[night.studio.slug, term.pk])
    client.force_login(night.instructor)
    file = client.get(address)
    client.force_login(rows.person("Stranger"))

    assert [seen.title for seen in READERS[0](file.content)] == ["Evening blowing", "Anneal: Annealer 1"]
    assert b"\r\nNAME:Lehrbook: Vera\\, Spring\r\n" in file.content
    assert client.get(address).status_code == 404


def test_a_file_to_keep_is_compressed_and_tagged_like_any(client: Client, night: Night) -> None:
    client.force_login(night.instructor)
    address = reverse("week-file", args=[2027, 10])
    plain, coded = client.get(address), client.get(address, headers={"accept-encoding": "gzip"})

    again = client.get(address, headers={"accept-encoding": "gzip", "if-none-match": coded["ETag"]})

    assert gzip.decompress(coded.content) == plain.content
    assert again.status_code == 304
    assert "Last-Modified" not in plain


def test_a_week_is_written_with_two_digits() -> None:
    assert reverse("week-file", kwargs={"year": 2027, "week": 3}) == "/calendars/week/2027-W03.ics"


def test_the_week_of_nobody_leads_to_the_sign_in(client: Client, db: None) -> None:
    response = client.get(reverse("week-file", args=[2027, 10]))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize(
    "week",
    [
        "2027-W53",
        "2027-W00",
        "0000-W01",
        "0001-W01",
        "1999-W52",
        "2201-W01",
        "2999-W52",
        "9999-W52",
        "9999-W99",
        "2027-W7",
        "27-W10",
    ],
)
def test_a_week_that_is_none_or_outside_the_book_is_not_found(
    client: Client, night: Night, week: str
) -> None:
    client.force_login(night.student)
    assert client.get(f"/calendars/week/{week}.ics").status_code == 404


@pytest.mark.parametrize("week", ["2000-W01", "2200-W52"])
def test_the_first_and_the_last_week_of_the_book_are_files(client: Client, night: Night, week: str) -> None:
    client.force_login(night.student)
    assert client.get(f"/calendars/week/{week}.ics").status_code == 200
