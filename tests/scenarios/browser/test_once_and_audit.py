"""Forms sent twice in a real browser, with JavaScript and without; and the audit on every screen."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.models import FeedKey, RepeatedRequest
from tests.faces.web.bookings import a_class
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LINK = re.compile("Make a link")


@pytest.mark.parametrize("javascript", [True, False])
def test_a_double_click_makes_one_link(
    chromium: Browser, live_server: LiveServer, town: Town, javascript: bool
) -> None:
    context = chromium.new_context(java_script_enabled=javascript)
    page = context.new_page()
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/calendars")
    page.locator("input[name=label]").fill("my phone")

    page.get_by_role("button", name=LINK).dblclick()

    page.get_by_text("The link is made.").wait_for()
    assert page.get_by_text("The link is made.").count() == 1
    context.close()
    assert FeedKey.objects.count() == 1


def test_the_old_form_sent_again_does_it_once_and_says_the_same(
    chromium: Browser, live_server: LiveServer, town: Town
) -> None:
    """Two windows on one form: whichever answer was lost, the other one says what came of it."""
    context = chromium.new_context()
    first, second = context.new_page(), context.new_page()
    sign_in(first, live_server, town.student)
    for page in (first, second):
        page.goto(f"{live_server.url}/calendars")
    old = first.locator(".making input[name=once]").get_attribute("value")
    second.evaluate("old => document.querySelector('.making input[name=once]').value = old", old)

    for page in (first, second):
        send(page, "my phone")
        page.get_by_text("The link is made.").wait_for()

    context.close()
    assert FeedKey.objects.count() == 1


def test_one_that_is_still_under_way_can_be_asked_for_again_by_a_button(
    chromium: Browser, live_server: LiveServer, town: Town
) -> None:
    """The form in another window is sent while the first is under way: its row says so."""
    context = chromium.new_context()
    page = context.new_page()
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/calendars")
    old = page.locator("form:has(input[name=label]) input[name=once]").get_attribute("value")
    send(page, "my phone")
    page.get_by_text("The link is made.").wait_for()
    done = RepeatedRequest.objects.get()
    RepeatedRequest.objects.update(status_code=None, body=None)
    page.evaluate("old => document.querySelector('.making input[name=once]').value = old", old)

    send(page, "my phone")
    page.get_by_text("It is being carried out").wait_for()
    RepeatedRequest.objects.update(status_code=done.status_code, body=done.body)
    page.get_by_role("button", name="Ask again").press("Enter")

    page.get_by_text("The link is made.").wait_for()
    context.close()
    assert FeedKey.objects.count() == 1


def send(page: Page, label: str) -> None:
    page.locator("input[name=label]").fill(label)
    page.get_by_role("button", name=LINK).click()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_the_audit_can_be_read_by_everybody_on_every_screen(
    chromium: Browser, live_server: LiveServer, town: Town, width: int, scheme: str
) -> None:
    dark = scheme == "dark"
    context = chromium.new_context(
        color_scheme="dark" if dark else "light", viewport={"width": width, "height": 844}
    )
    page = context.new_page()
    session = a_class(town)
    sign_in(page, live_server, town.manager)

    page.goto(f"{live_server.url}/sessions/{session.uid}")
    page.get_by_role("link", name="What happened to it").click()
    page.get_by_text("Only what happened to one thing").wait_for()

    found = Axe().run(page, options=RULES)
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert found.violations_count == 0, found.generate_report()
    assert wide <= width
