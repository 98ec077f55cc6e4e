"""The first page anybody sees, in a real browser."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.shortcuts import resolve_url
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

pytestmark = pytest.mark.browser

DESK, PHONE = 1280, 390


@pytest.mark.parametrize("width", [DESK, PHONE])
def test_signing_in_fits_the_screen_and_complains_of_nothing(
    live_server: LiveServer, page: Page, width: int
) -> None:
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("requestfailed", lambda request: complaints.append(request.url))
    page.set_viewport_size({"width": width, "height": 800})

    page.goto(live_server.url + resolve_url("sign-in"), wait_until="networkidle")

    assert page.locator("input[type=password]").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert complaints == []


def test_signing_in_can_be_read_by_everybody(live_server: LiveServer, page: Page) -> None:
    page.goto(live_server.url + resolve_url("sign-in"))
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
