"""A calendar that is asked for again and again: what is sent, what is kept, and what it costs."""

from __future__ import annotations

import datetime as dt
import gzip
import json
import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import connection, connections
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from scheduling.feeds import views
from scheduling.feeds.written import written
from scheduling.models import About, BookingStatus, FeedCopy, FeedForm, FeedKey, Session
from scheduling.selectors.calendar import next_midnight
from scheduling.selectors.feed_copies import whole_copy
from scheduling.services.calendars import new_feed_key, withdraw_feed_key
from scheduling.services.feed_copies import MOST_COPIES, keep_copy
from studios.models import Closure, Membership, Studio
from tests.faces.feeds import rows
from tests.faces.feeds.conftest import CHICAGO, EVENING, Night
from tests.faces.feeds.readers import by_icalendar

NOON = EVENING - dt.timedelta(hours=6)
DAY = dt.timedelta(days=1)
FORMS = FeedForm.values


@pytest.fixture
def key(night: Night) -> FeedKey:
    return new_feed_key(actor=night.instructor, label="my phone")


def address(key: FeedKey, form: str = "ics") -> str:
    return f"/calendars/{key.key}.{form}"


def got(client: Client, key: FeedKey, at: dt.datetime = NOON, form: str = "ics", **headers: str) -> Any:
    with time_machine.travel(at, tick=False):
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        return client.get(address(key, form), headers=named)


def writes_of_copies(queries: CaptureQueriesContext) -> list[str]:
    said = [query["sql"] for query in queries if "scheduling_feedcopy" in query["sql"]]
    return [sql for sql in said if not sql.startswith("SELECT")]


@pytest.mark.parametrize("form", FORMS)
def test_compressed_bytes_are_the_same_calendar_with_a_tag_of_their_own(
    client: Client, key: FeedKey, form: str
) -> None:
    plain = got(client, key, form=form)
    coded = got(client, key, form=form, accept_encoding="gzip, deflate, br")

    assert gzip.decompress(coded.content) == plain.content
    assert (coded["Content-Encoding"], coded["Content-Length"]) == ("gzip", str(len(coded.content)))
    assert "Content-Encoding" not in plain
    assert plain["Vary"] == coded["Vary"] == "Accept-Encoding"
    assert plain["ETag"] != coded["ETag"]
    # The seconds at which it was compressed stand in bytes 4 to 8: they would make it another each time.
    assert coded.content[4:8] == bytes(4)


@pytest.mark.parametrize(
    ("accepted", "coded"),
    [
        ("", False),
        ("gzip", True),
        ("GZIP", True),
        ("x-gzip", True),
        ("gzip;q=0", False),
        ("gzip;q=0.0", False),
        ("gzip; q=0.001", True),
        ("deflate, gzip;q=1.0, *;q=0.5", True),
        ("gzip;q=0.5, identity", False),
        ("gzip;q=0.5, identity;q=0.5", True),
        ("identity;q=0, gzip;q=0.1", True),
        ("*", True),
        ("*;q=0", False),
        ("br, *;q=0.2", True),
        ("gzip;q=0, *", False),
        ("br", False),
        ("identity", False),
        ("gzip;q=nonsense", False),
    ],
)
def test_who_asks_says_how_it_may_be_written(
    client: Client, key: FeedKey, accepted: str, coded: bool
) -> None:
    response = got(client, key, accept_encoding=accepted)
    assert (response.get("Content-Encoding") == "gzip") == coded


@pytest.mark.parametrize("accepted", ["identity", "gzip"])
@pytest.mark.parametrize("form", FORMS)
def test_a_head_is_that_of_the_whole(client: Client, key: FeedKey, form: str, accepted: str) -> None:
    whole = got(client, key, form=form, accept_encoding=accepted)
    with time_machine.travel(NOON, tick=False):
        head = client.head(address(key, form), headers={"accept-encoding": accepted})

    assert (head.status_code, head.content) == (200, b"")
    assert head.headers == whole.headers
    assert whole["Content-Disposition"] == f'inline; filename="lehrbook.{form}"'


def test_each_form_says_what_it_is(client: Client, key: FeedKey) -> None:
    types = [got(client, key, form=form)["Content-Type"] for form in ("ics", "json", "ifb")]
    assert types == [
        "text/calendar; charset=utf-8",
        "application/calendar+json",
        "text/calendar; charset=utf-8",
    ]

    name, _, components = json.loads(got(client, key, form="json").content)
    assert (name, len([one for one in components if one[0] == "vevent"])) == ("vcalendar", 3)
    hours = got(client, key, form="ifb").content
    assert b"BEGIN:VFREEBUSY" in hours
    assert b"Evening" not in hours


@pytest.mark.parametrize("accepted", ["identity", "gzip"])
@pytest.mark.parametrize("form", FORMS)
def test_whoever_has_it_is_told_so_by_one_query(
    client: Client, key: FeedKey, form: str, accepted: str
) -> None:
    first = got(client, key, form=form, accept_encoding=accepted)

    with CaptureQueriesContext(connection) as queries:
        again = got(
            client, key, NOON + rows.HOUR, form, accept_encoding=accepted, if_none_match=first["ETag"]
        )

    assert (again.status_code, again.content, len(queries)) == (304, b"", 1)
    for name in ("ETag", "Last-Modified", "Cache-Control", "Vary"):
        assert again[name] == first[name]
    assert "Content-Type" not in again


def test_the_tag_of_one_coding_is_not_that_of_the_other(client: Client, key: FeedKey) -> None:
    plain = got(client, key)
    assert got(client, key, accept_encoding="gzip", if_none_match=plain["ETag"]).status_code == 200


def test_who_knows_only_since_when_is_answered_too(client: Client, key: FeedKey) -> None:
    first = got(client, key)
    assert got(client, key, if_modified_since=first["Last-Modified"]).status_code == 304
    Session.objects.update(starts_at=EVENING - rows.HOUR, sequence=1)
    assert got(client, key, NOON + rows.HOUR, if_modified_since=first["Last-Modified"]).status_code == 200


def test_the_tag_stays_where_something_was_written_and_no_byte_is_another(
    client: Client, key: FeedKey, night: Night
) -> None:
    first = got(client, key)
    day = NOON.date()
    Closure.objects.create(studio=night.studio, first_day=day, last_day=day, reason="stocktaking")

    again = got(client, key, NOON + rows.HOUR, if_none_match=first["ETag"])
    with CaptureQueriesContext(connection) as queries:
        third = got(client, key, NOON + 2 * rows.HOUR)

    assert (again.status_code, third["ETag"]) == (304, first["ETag"])
    assert third["Last-Modified"] == first["Last-Modified"]
    assert writes_of_copies(queries) == []


def test_a_change_is_seen_at_once_and_dated(client: Client, key: FeedKey) -> None:
    first = got(client, key)
    Session.objects.update(starts_at=EVENING - rows.HOUR, sequence=1)

    again = got(client, key, NOON + rows.HOUR, if_none_match=first["ETag"])

    assert again.status_code == 200
    assert again["ETag"] != first["ETag"]
    assert again["Last-Modified"] != first["Last-Modified"]
    assert FeedCopy.objects.count() == 1


def test_what_is_asked_for_twice_is_written_once(client: Client, key: FeedKey) -> None:
    with CaptureQueriesContext(connection) as first:
        got(client, key)
    with CaptureQueriesContext(connection) as second:
        got(client, key, NOON + rows.HOUR)

    assert (len(writes_of_copies(first)), len(second)) == (1, 2)


def test_the_days_move_on_at_the_midnight_of_the_studio(client: Client, key: FeedKey) -> None:
    """In the night of 13 March its clocks change; the class is shown for four weeks, until 10 April."""
    last_evening = dt.datetime(2027, 4, 10, 23, 59, tzinfo=CHICAGO)
    midnight = dt.datetime(2027, 4, 11, 0, 0, tzinfo=CHICAGO)
    before = got(client, key, last_evening - rows.HOUR)

    still = got(client, key, last_evening, if_none_match=before["ETag"])
    after = got(client, key, midnight, if_none_match=before["ETag"])

    assert (still.status_code, after.status_code) == (304, 200)
    assert "Evening blowing" in [seen.title for seen in by_icalendar(before.content)]
    assert "Evening blowing" not in [seen.title for seen in by_icalendar(after.content)]


@pytest.mark.parametrize(
    ("zone", "now", "midnight"),
    [
        # The clocks go forward at two: midnight is 23 hours after midnight.
        ("America/Chicago", "2027-03-14T06:00Z", "2027-03-15T05:00Z"),
        ("America/Chicago", "2027-11-07T05:00Z", "2027-11-08T06:00Z"),
        # They go forward by half an hour.
        ("Australia/Lord_Howe", "2027-10-02T13:30Z", "2027-10-03T13:00Z"),
        # They jump over midnight itself: the day begins at one.
        ("Africa/Cairo", "2027-04-29T20:00Z", "2027-04-29T22:00Z"),
    ],
)
def test_a_day_ends_at_midnight_also_where_the_clocks_change(zone: str, now: str, midnight: str) -> None:
    found = next_midnight(ZoneInfo(zone), dt.datetime.fromisoformat(now))
    assert found == dt.datetime.fromisoformat(midnight)


def test_a_class_that_is_called_off_is_seen_so_for_four_weeks(client: Client, key: FeedKey) -> None:
    Session.objects.update(status=BookingStatus.CANCELLED, sequence=1, changed_at=timezone.now())

    def statuses(at: dt.datetime) -> list[str]:
        seen = by_icalendar(got(client, key, at).content)
        return [event.status for event in seen if event.title == "Evening blowing"]

    assert statuses(NOON) == statuses(NOON + 28 * DAY) == ["CANCELLED"]
    assert statuses(NOON + 29 * DAY) == []


def test_another_host_has_a_copy_with_its_own_addresses(client: Client, key: FeedKey, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["one.example", "two.example"]

    one, two = (got(client, key, host=f"{name}.example") for name in ("one", "two"))

    assert b"http://one.example/" in one.content
    assert b"http://one.example/" not in two.content
    assert FeedCopy.objects.count() == 2


@pytest.mark.parametrize("form", FORMS)
def test_of_a_link_that_is_asked_for_by_ever_other_names_the_newest_few_copies_are_kept(
    client: Client, key: FeedKey, settings: Any, form: str
) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    other_form = "json" if form == "ics" else "ics"
    got(client, key, form=other_form)

    answers = [got(client, key, form=form, host=f"{number}.example") for number in range(MOST_COPIES + 3)]

    assert {answer.status_code for answer in answers} == {200}
    kept = FeedCopy.objects.filter(form=form).order_by("pk").values_list("base", flat=True)
    assert list(kept) == [f"http://{number}.example" for number in range(3, MOST_COPIES + 3)]
    assert FeedCopy.objects.filter(form=other_form).count() == 1
    assert got(client, key, form=form, host="0.example").content == answers[0].content


def test_a_name_is_the_same_in_any_case(client: Client, key: FeedKey, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["book.example"]
    tags = {got(client, key, host=host)["ETag"] for host in ("book.example", "BOOK.Example")}
    assert (len(tags), FeedCopy.objects.count()) == (1, 1)


def test_a_copy_that_goes_while_it_is_sent_is_written_anew(
    client: Client, key: FeedKey, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = got(client, key)

    def gone(copy_id: int) -> FeedCopy | None:
        FeedCopy.objects.filter(pk=copy_id).delete()
        return whole_copy(copy_id)

    monkeypatch.setattr(views, "whole_copy", gone)

    assert got(client, key).content == before.content


def test_a_host_with_an_endless_name_is_refused(client: Client, key: FeedKey, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    assert got(client, key, host=f"{'a' * 400}.example").status_code == 400


@pytest.mark.parametrize("form", FORMS)
def test_nothing_is_kept_of_a_link_that_is_withdrawn(
    client: Client, key: FeedKey, night: Night, form: str
) -> None:
    got(client, key, form=form)
    assert FeedCopy.objects.exists()

    withdraw_feed_key(actor=night.instructor, feed_key=key)

    assert not FeedCopy.objects.exists()
    assert got(client, key, form=form).status_code == 404


def test_whoever_writes_while_the_link_is_withdrawn_keeps_nothing(
    client: Client, key: FeedKey, night: Night, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(*facts: Any) -> bytes:
        withdraw_feed_key(actor=night.instructor, feed_key=key)
        return written(*facts)

    monkeypatch.setattr(views, "written", slow)

    assert got(client, key).status_code == 404
    assert not FeedCopy.objects.exists()


def test_a_link_shows_nothing_from_the_moment_in_which_the_role_is_lost(client: Client, night: Night) -> None:
    key = new_feed_key(actor=night.student, label="door", about=About.STUDIO, studio=night.studio)
    first = got(client, key)
    assert first.status_code == 200

    role = Membership.objects.get(person=night.student)
    role.delete()
    lost = got(client, key, if_none_match=first["ETag"])
    kept = FeedCopy.objects.exists()
    role.save(force_insert=True)

    assert (lost.status_code, kept) == (404, False)
    assert got(client, key).status_code == 200


def test_who_was_slower_and_read_less_changes_nothing(night: Night, key: FeedKey) -> None:
    facts: dict[str, Any] = {"link": key, "form": "ics", "base": "http://x", "good_until": NOON}
    keep_copy(count=7, content=b"newer", now=NOON, **facts)

    keep_copy(count=6, content=b"older", now=NOON + rows.MINUTE, **facts)

    copy = FeedCopy.objects.get()
    assert (copy.count, gzip.decompress(copy.content)) == (7, b"newer")


def test_bytes_that_come_back_are_dated_anew(night: Night, key: FeedKey) -> None:
    facts: dict[str, Any] = {"link": key, "form": "ics", "base": "http://x", "good_until": NOON}
    for minutes, content in enumerate((b"one", b"two", b"one")):
        keep_copy(count=minutes, content=content, now=NOON + minutes * rows.MINUTE, **facts)

    assert FeedCopy.objects.get().changed_at == NOON + 2 * rows.MINUTE


@pytest.mark.django_db(transaction=True)
def test_two_who_write_the_same_calendar_at_once_both_have_it(monkeypatch: pytest.MonkeyPatch) -> None:
    studio = rows.studio()
    key = new_feed_key(actor=rows.person("Vera", studio), label="my phone")
    both = threading.Barrier(2)

    def together(*facts: Any) -> bytes:
        content = written(*facts)
        both.wait(timeout=20)
        return content

    monkeypatch.setattr(views, "written", together)

    def ask(_number: int) -> tuple[int, str]:
        try:
            response = Client().get(reverse("feed", args=[key.key]))
            return response.status_code, response["ETag"]
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        (first, tag), (second, same) = pool.map(ask, range(2))

    assert (first, second, tag) == (200, 200, same)
    assert FeedCopy.objects.count() == 1


def test_no_sum_of_counts_comes_twice_when_equipment_moves(client: Client, night: Night) -> None:
    """Its count goes with it to the other studio, and the set-up has changed once more."""
    other = Studio.objects.create(name="Annex", slug="annex", time_zone="America/Chicago")
    key = new_feed_key(actor=night.student, label="door", about=About.STUDIO, studio=night.studio)
    before = got(client, key)
    assert b"Anneal: Annealer 1" in before.content

    night.annealer.studio = other
    night.annealer.save()

    assert b"Anneal: Annealer 1" not in got(client, key).content
