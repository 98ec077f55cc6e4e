"""The outbox in a real browser: on a phone, by the rules of WCAG, and without JavaScript."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Message
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.services.test_outbox import failed, told
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_the_outbox_can_be_read_by_everybody_on_every_screen(
    chromium: Browser, live_server: LiveServer, town: Town, width: int, scheme: str
) -> None:
    dark = scheme == "dark"
    context = chromium.new_context(
        color_scheme="dark" if dark else "light", viewport={"width": width, "height": 844}
    )
    page = context.new_page()
    failed(town.student, "Your class at the torch on Tuesday is called off")
    told(town.instructor, "Booked: beads")
    sign_in(page, live_server, town.manager)

    page.goto(f"{live_server.url}/outbox")

    found = Axe().run(page, options=RULES)
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert found.violations_count == 0, found.generate_report()
    assert wide <= width


def test_a_message_is_tried_again_without_javascript_and_by_keyboard(
    chromium: Browser, live_server: LiveServer, town: Town
) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    failed(town.student, "Your seat")
    sign_in(page, live_server, town.manager)
    page.get_by_text("Office").click()
    page.get_by_role("link", name="Outbox").click()

    page.get_by_role("button", name="Try again now: Your seat, to Student").press("Enter")

    page.get_by_text("“Your seat” is tried again now.").wait_for()
    context.close()
    assert Message.objects.exclude(sent_at=None).count() == 1
