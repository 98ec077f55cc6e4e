"""Somebody chooses German and Fahrenheit, and reads both on the week sheet."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from tests.faces.web.bookings import WEEK, a_class
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def choose_german_and_fahrenheit(page: Page, server: LiveServer) -> None:
    page.goto(f"{server.url}/account")
    page.get_by_label("Language", exact=True).select_option(label="Deutsch")
    page.get_by_label("Temperatures and lengths").select_option(label="°F and inches")
    page.get_by_role("button", name="Read them so").click()
    page.get_by_role("heading", name="Ihr Konto").wait_for()


def lang_of(page: Page) -> str:
    return str(page.evaluate("document.documentElement.lang"))


def test_both_are_read_on_the_week_sheet_without_javascript(
    plain: Page, live_server: LiveServer, town: Town
) -> None:
    a_class(town)
    sign_in(plain, live_server, town.instructor)
    assert lang_of(plain) == "en"

    choose_german_and_fahrenheit(plain, live_server)
    plain.goto(f"{live_server.url}/?week={WEEK}")

    assert lang_of(plain) == "de"
    words = plain.inner_text("main")
    assert "Mär" in words
    assert "°F" in plain.content()
    assert "°C" not in words


@pytest.mark.parametrize("width", [390, 1280])
def test_a_german_page_keeps_the_rules_and_its_width(
    chromium: Browser, live_server: LiveServer, town: Town, width: int
) -> None:
    context = chromium.new_context(locale="de-DE", viewport={"width": width, "height": 844})
    page = context.new_page()
    a_class(town, "beads")
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_label("E-Mail").fill(town.instructor.email)
    page.get_by_label("Passwort").fill("glass")
    page.get_by_role("button", name="Anmelden").click()
    page.wait_for_url(lambda address: "/sign-in" not in address)

    wrong: dict[str, str] = {}
    wide: dict[str, int] = {}
    for path in (f"/?week={WEEK}", "/book", "/my-seats", "/account", "/cautions"):
        page.goto(live_server.url + path)
        assert lang_of(page) == "de"
        result = Axe().run(page, options=RULES)
        wrong |= {path: result.generate_report()} if result.violations_count else {}
        reach = page.evaluate("document.documentElement.scrollWidth")
        wide |= {path: reach} if reach > width else {}
    context.close()

    assert (wrong, wide) == ({}, {})
