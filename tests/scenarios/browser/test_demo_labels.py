"""The fullest week of the demo as it is drawn: nothing written on it is cut, and no two names meet."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterator
from io import StringIO

import pytest
from django.core.management import call_command
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.management.demo.files import email_of
from scheduling.management.demo.loading import zone
from scheduling.management.demo.people import password
from scheduling.models import Session
from studios.models import Person
from tests.scenarios.browser.test_week import SPOILT_LABELS

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# Names beside the strips, and links above them, of which a part is not seen.
CUT_NAMES = """
[...document.querySelectorAll(".row-name, .row-name *, .places a, .who, .choice a, .steps a")]
  .filter(one => one.checkVisibility() && one.clientWidth && one.scrollWidth > one.clientWidth + 1)
  .map(one => one.textContent.trim())
"""


@pytest.fixture
def fullest() -> tuple[str, dt.date]:
    """The week of the term with most classes, and its fullest day."""
    call_command("load_demo", "--yes", stdout=StringIO())
    days = [at.astimezone(zone()).date() for at in Session.objects.values_list("starts_at", flat=True)]
    week = Counter(f"{day:%G-W%V}" for day in days).most_common(1)[0][0]
    day = Counter(day for day in days if f"{day:%G-W%V}" == week).most_common(1)[0][0]
    return week, day


def pages(chromium: Browser, url: str) -> Iterator[Page]:
    """As whoever sees every name reads it: in both languages, on a screen and on a phone."""
    reader = Person.objects.get(email=email_of("mirela"))
    for language in ("en", "de"):
        Person.objects.filter(pk=reader.pk).update(language=language)
        for width in (1280, 390):
            context = chromium.new_context(viewport={"width": width, "height": 844})
            page = context.new_page()
            page.goto(f"{url}/sign-in")
            page.locator("input[name=username]").fill(reader.email)
            page.locator("input[type=password]").fill(password())
            page.locator("main form button").first.click()
            page.wait_for_url(lambda address: "/sign-in" not in address)
            yield page
            context.close()


def test_in_the_fullest_week_no_label_is_cut_or_meets_another(
    chromium: Browser, live_server: LiveServer, fullest: tuple[str, dt.date]
) -> None:
    week, day = fullest

    for page in pages(chromium, live_server.url):
        for asked in (
            f"week={week}",
            f"day={day}",
            f"week={week}&studio=quillback",
            f"week={week}&kind=torch",
        ):
            page.goto(f"{live_server.url}/?{asked}")

            assert page.locator(".strip .label").count() > 2
            assert page.evaluate(SPOILT_LABELS) == []
            assert page.evaluate(CUT_NAMES) == []
            assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_the_fullest_week_is_printed_on_one_landscape_page(
    chromium: Browser, live_server: LiveServer, fullest: tuple[str, dt.date]
) -> None:
    week, _ = fullest

    for page in pages(chromium, live_server.url):
        page.goto(f"{live_server.url}/?week={week}")
        paper = page.pdf(prefer_css_page_size=True)

        assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 1
