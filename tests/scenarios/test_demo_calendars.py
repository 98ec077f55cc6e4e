"""Every calendar of the demo's term, as readers see it that know nothing of each other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from io import StringIO

import icalendar
import pytest
from django.core.management import call_command
from pytest_django.plugin import DjangoDbBlocker

from scheduling.feeds.written import written
from scheduling.ical.event import CalendarFile, EventKind
from scheduling.ical.free_busy import busy_spans
from scheduling.ical.reading.busy import Window
from scheduling.ical.reading.busy import busy_spans as read_busy_spans
from scheduling.ical.text_form import plain
from scheduling.ical.weekly import single
from scheduling.management.demo.loading import loaded_term, zone
from scheduling.models import About, Course, FeedForm, FeedKey
from scheduling.selectors.feed_links import OWN, Rolling, rolling_calendar
from scheduling.services.calendars import new_feed_key
from scheduling.services.cancelling import cancel_session
from scheduling.services.moving import move_session
from scheduling.services.series import book_series
from studios.models import Person, Role, Studio
from tests.faces.feeds.node_readers import EVERY_EXPANDING, end_processes
from tests.faces.feeds.readers import Seen, by_recurring_ical_events
from tests.faces.feeds.samples import Reader, seen

pytestmark = pytest.mark.django_db
BASE = "https://lehrbook.test"
Calendar = tuple[FeedKey, Rolling]


@pytest.fixture(scope="module")
def calendars(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[list[Calendar]]:
    """The demo, loaded for good while this module runs, and a link to whatever has a calendar."""
    with django_db_blocker.unblock():
        call_command("load_demo", "--yes", stdout=StringIO())
        a_weekly_class_with_exceptions()
        yield [(link, shown) for link in links() if (shown := shown_in_the_term(link)).file.events]
        call_command("flush", interactive=False, verbosity=0)
    end_processes()


def a_weekly_class_with_exceptions() -> None:
    """Five Thursdays after the term, one week left out; then one is moved and one called off."""
    course, tobin = Course.objects.get(slug="paperweights"), Person.objects.get(name__startswith="Tobin")
    studio, term = Studio.objects.get(slug="quillback"), loaded_term()
    days = [term.day(week, "thursday") for week in (15, 16, 18, 19, 20)]
    series = book_series(
        actor=tobin, course=course, studio=studio, instructor=tobin, days=days, time=dt.time(18)
    )
    _, second, third, *_ = series.sessions.order_by("starts_at")
    move_session(actor=tobin, session=second, starts_at=second.starts_at + dt.timedelta(days=1, hours=1))
    cancel_session(actor=tobin, session=third)


def links() -> Iterator[FeedKey]:
    """Those of everybody in it, of each studio, of its duties, and of each piece of equipment."""
    for person in Person.objects.filter(memberships__isnull=False).distinct():
        yield new_feed_key(actor=person, label="own")
    for studio in Studio.objects.all():
        manager = Person.objects.filter(memberships__studio=studio, memberships__role=Role.MANAGER).first()
        assert manager
        yield new_feed_key(actor=manager, label="studio", about=About.STUDIO, studio=studio)
        yield new_feed_key(actor=manager, label="duties", about=About.DUTIES, studio=studio)
        for one in studio.equipment.all():
            yield new_feed_key(actor=manager, label="one", about=About.EQUIPMENT, equipment=one)


def shown_in_the_term(link: FeedKey) -> Rolling:
    """What a link shows on the day on which the term begins: the clocks change in its eighth week."""
    rolling = rolling_calendar(link, dt.datetime.combine(loaded_term().monday, dt.time(12), tzinfo=dt.UTC))
    assert rolling
    return rolling


def to_be_seen(file: CalendarFile) -> list[Seen]:
    """Every event and every meeting of a series, with text as a calendar may carry it."""
    return sorted(
        replace(seen(each), title=plain(each.title), description=plain(each.description))
        for each in single(file.events)
    )


def test_the_term_shows_every_kind_of_event_on_both_sides_of_the_change_of_clocks(
    calendars: list[Calendar],
) -> None:
    events = [event for _, shown in calendars for event in shown.file.events]
    offsets = {event.starts_at.astimezone(zone()).utcoffset() for event in events}

    assert {event.kind for event in events} >= {*OWN, EventKind.CHARGE}
    assert len(offsets) == 2
    assert {link.about for link, _ in calendars} == set(About)
    assert len(events) > 1000
    assert any(event.weekly and event.weekly.skipped for event in events)
    assert {event.cancelled for event in events if event.stands_for} == {False, True}


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
def test_every_reader_sees_the_same_in_every_calendar(calendars: list[Calendar], reader: Reader) -> None:
    for link, shown in calendars:
        content = written(shown, link, FeedForm.ICALENDAR, BASE)
        assert reader(content) == to_be_seen(shown.file), str(link)


def test_the_same_is_seen_in_every_calendar_as_json(calendars: list[Calendar]) -> None:
    for link, shown in calendars:
        read = icalendar.Calendar.from_jcal(written(shown, link, FeedForm.JCAL, BASE).decode())
        assert by_recurring_ical_events(read.to_ical()) == to_be_seen(shown.file), str(link)


def test_free_and_busy_time_is_what_is_read_here_as_busy(calendars: list[Calendar]) -> None:
    """A calendar of ours, given to us as somebody's own, takes the hours that it says are taken."""
    for link, shown in calendars:
        window, content = shown.window, written(shown, link, FeedForm.ICALENDAR, BASE)
        here = Window(begin=window.from_at, end=window.to_at, zone=zone())
        read = [(max(a, here.begin), min(b, here.end)) for a, b in read_busy_spans(content, here)]
        assert read == list(busy_spans(shown.file, window.from_at, window.to_at)), str(link)
