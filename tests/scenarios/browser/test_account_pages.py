"""An account in a real browser: without JavaScript, on a phone, by the rules of WCAG and a strict policy."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Message
from scheduling.services.accounts import join_studio
from tests.scenarios.browser.test_calibration_pages import with_policy
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SECRET = "molten-amber-42"
OPEN = ["/sign-in", "/sign-up", "/mailed", "/password/forgotten", "/password/MQ/x-y", "/sign-up/MQ/x-y"]


def mailed_link(email: str) -> str:
    message = Message.objects.filter(person__email=email).latest("created_at")
    (link,) = re.findall(r"http://\S+/\S+-[0-9a-f]{32}", message.body)
    return str(link)


def test_from_sign_up_to_signed_out_everywhere_without_javascript(
    chromium: Browser, live_server: LiveServer, town: Town
) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_role("link", name="Sign up").click()
    page.get_by_label("Your name").fill("New Hand")
    page.get_by_label("E-mail").fill("new.hand@town.example")
    page.get_by_label("I want to be a student at").select_option(label="Flame")
    page.get_by_role("button", name="Sign up").click()
    page.get_by_role("heading", name="Look into your mail").wait_for()

    page.goto(mailed_link("new.hand@town.example"))
    page.get_by_label("Password").fill(SECRET)
    page.get_by_label("The same again").fill(SECRET)
    page.get_by_role("button", name="Confirm and sign in").click()
    page.get_by_role("link", name="New Hand").click()
    page.get_by_text("Flame: student").wait_for()

    page.get_by_role("button", name="Sign out everywhere").click()
    page.get_by_text("You are signed out on every device").wait_for()
    page.goto(f"{live_server.url}/account")
    page.get_by_role("heading", name="Sign in").wait_for()
    context.close()


def test_a_manager_confirms_by_keyboard_alone(page: Page, live_server: LiveServer, town: Town) -> None:
    join_studio(person=town.stranger, studio=town.flame)
    sign_in(page, live_server, town.manager)
    page.get_by_text("Office", exact=True).focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Confirm Stranger as student at Flame").focus()
    page.keyboard.press("Enter")

    page.get_by_text("Stranger is confirmed as student at Flame").wait_for()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_every_page_of_an_account_keeps_the_rules(
    chromium: Browser, live_server: LiveServer, town: Town, scheme: str, width: int
) -> None:
    join_studio(person=town.stranger, studio=town.flame)
    dark = scheme == "dark"
    context = chromium.new_context(
        color_scheme="dark" if dark else "light", viewport={"width": width, "height": 844}
    )
    page, wrong, complaints = context.new_page(), list[str](), list[str]()
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.route("**/*", with_policy)

    def look(path: str) -> None:
        page.goto(live_server.url + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        result = Axe().run(page, options=RULES)
        wrong.extend([result.generate_report()] if result.violations_count else [])

    for path in OPEN:
        look(path)
    sign_in(page, live_server, town.manager)
    for path in ("/account", "/account/password", "/people", "/people?studio=flame"):
        look(path)
    context.close()

    assert wrong == []
    assert complaints == []
