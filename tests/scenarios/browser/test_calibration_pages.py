"""The pages of a piece of equipment and of a fitted log in a real browser, as a technician uses them."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route
from pytest_django.live_server_helper import LiveServer

from studios.models import ThermalRecord
from tests.faces.web.bookings import a_class
from tests.logs import cooling_log
from tests.scenarios.browser.test_pages import RULES, _with_policy, sign_in
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def fit(page: Page, server: LiveServer, town: Town, log: Path) -> None:
    """Through the page, from the sheet's name of an annealer to the fit."""
    page.goto(f"{server.url}/equipment/{town.equipment['annealer 1'].uid}")
    page.get_by_label("Log (CSV").set_input_files(log)
    page.get_by_role("button", name="Fit the log").click()
    page.get_by_role("heading", name="annealer 1: a fitted log").wait_for()
    page.goto(page.url)


def with_policy(route: Route) -> None:
    """A strict policy on all that is read; a form is sent on as it is, since its file would get lost."""
    if route.request.method == "GET":
        _with_policy(route)
    else:
        route.continue_()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "night.csv"
    path.write_text(cooling_log(2.0, 5.0))
    return path


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_a_log_becomes_the_record_within_the_rules_of_wcag_aa_and_a_strict_policy(
    chromium: Browser, live_server: LiveServer, town: Town, log: Path, scheme: str, width: int
) -> None:
    a_class(town)
    dark = scheme == "dark"
    context = chromium.new_context(
        color_scheme="dark" if dark else "light", viewport={"width": width, "height": 844}
    )
    page, wrong, complaints = context.new_page(), [], list[str]()
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.route("**/*", with_policy)

    def look() -> None:
        page.wait_for_load_state("load")
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, page.url
        result = Axe().run(page, options=RULES)
        wrong.extend([result.generate_report()] if result.violations_count else [])

    sign_in(page, live_server, town.technician)
    fit(page, live_server, town, log)
    look()
    page.get_by_role("radio", name="one range").check()
    page.get_by_role("button", name="Use this as the record").click()
    page.get_by_text("Say that you accept it").wait_for()
    look()
    page.get_by_label("I accept it although").check()
    page.get_by_role("button", name="Use this as the record").click()
    page.get_by_text("goes by this record from").wait_for()
    look()
    page.get_by_role("link", name="annealer 1, its record and its logs").click()
    page.get_by_role("heading", name="All its records").wait_for()
    look()
    context.close()

    assert wrong == []
    # Chromium itself says that the refusal came with 409.
    assert [said for said in complaints if "409" not in said] == []
    assert ThermalRecord.objects.filter(source__startswith="fitted from night.csv").count() == 1
