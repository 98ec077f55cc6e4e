"""At the kiln: a program is read and keyed in, and the log of a firing is given."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.engine.clock import moment
from scheduling.engine.curves import temperature
from scheduling.models import FeedKey, Firing
from scheduling.selectors.held import phases_of
from studios.models import Calibration
from tests.faces.web.bookings import WEEK, a_class
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def firing(town: Town) -> Firing:
    a_class(town)
    return Firing.objects.get()


@pytest.fixture
def log(firing: Firing, tmp_path: Path) -> Path:
    """What a logger wrote of it: 25 K colder than was worked out."""
    occupancy = firing.occupancy.pk
    lines = ["time,temperature (°C)"]
    for phase in phases_of([occupancy])[occupancy]:
        for minute in range(*phase.span, 5):
            celsius = temperature(phase, minute)
            if celsius is not None:
                lines.append(f"{moment(minute).isoformat()},{celsius - 25:.2f}")
    path = tmp_path / "night.csv"
    path.write_text("\n".join(lines))
    return path


def looked_at(page: Page) -> list[str]:
    """What is wrong with a page as it stands, everything unfolded."""
    page.wait_for_load_state("load")
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    wide = page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    wrong = [f"{page.url} scrolls sideways"] if wide else []
    result = Axe().run(page, options=RULES)
    return [*wrong, result.generate_report()] if result.violations_count else wrong


@pytest.fixture(params=[(1280, "light"), (1280, "dark"), (390, "light"), (390, "dark")], ids=str)
def sized(request: pytest.FixtureRequest, chromium: Browser) -> Iterator[Page]:
    """A page wide and narrow, by day and by night."""
    width, scheme = request.param
    context = chromium.new_context(color_scheme=scheme, viewport={"width": width, "height": 844})
    yield context.new_page()
    context.close()


def test_a_program_is_read_a_log_is_given_and_a_calendar_made(
    sized: Page, live_server: LiveServer, town: Town, firing: Firing, log: Path
) -> None:
    wrong, complaints = list[str](), list[str]()
    sized.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    sized.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in(sized, live_server, town.technician)

    sized.goto(f"{live_server.url}/firings/{firing.uid}")
    wrong += looked_at(sized)
    sized.get_by_role("link", name="Segments to key in").click()
    keyed = sized.locator(".segments .keyed").first.bounding_box()
    sized.get_by_label("Log (CSV").set_input_files(log)
    sized.get_by_role("button", name="Draw it over the curve").click()
    sized.get_by_role("heading", name="The log over the curve").wait_for()
    wrong += looked_at(sized)
    sized.get_by_role("link", name="annealer 1: how it heats and cools").click()
    sized.get_by_role("heading", name="What it is held for next").wait_for()
    wrong += looked_at(sized)
    sized.get_by_role("button", name="Make a calendar link to it").click()
    sized.get_by_text("The link is made.").wait_for()

    assert (wrong, complaints) == ([], [])
    # Read at arm's length: a number is at least 24 pixels high.
    assert keyed is not None
    assert keyed["height"] >= 24
    assert FeedKey.objects.get().equipment == town.equipment["annealer 1"]


def test_a_log_is_drawn_without_javascript_and_nothing_of_it_is_kept(
    plain: Page, live_server: LiveServer, town: Town, firing: Firing, log: Path
) -> None:
    sign_in(plain, live_server, town.instructor)
    plain.goto(f"{live_server.url}/firings/{firing.uid}")
    plain.get_by_label("Log (CSV").set_input_files(log)

    plain.get_by_role("button", name="Draw it over the curve").click()

    plain.get_by_text("25 °C colder").first.wait_for()
    assert not Calibration.objects.exists()


def test_a_log_is_fitted_and_kept_from_the_firing_without_javascript(
    plain: Page, live_server: LiveServer, town: Town, firing: Firing, log: Path
) -> None:
    log.write_text(log.read_text().replace(",-", ",0"))
    sign_in(plain, live_server, town.technician)
    plain.goto(f"{live_server.url}/firings/{firing.uid}")
    plain.get_by_label("Log (CSV").set_input_files(log)

    plain.get_by_role("button", name="Fit it to the record of annealer 1").click()

    plain.get_by_role("heading", name="annealer 1: a fitted log").wait_for()
    assert Calibration.objects.get().equipment == town.equipment["annealer 1"]


def test_by_keyboard_alone_the_program_is_reached_and_a_log_given(
    page: Page, live_server: LiveServer, town: Town, firing: Firing, log: Path
) -> None:
    sign_in(page, live_server, town.technician)
    page.goto(f"{live_server.url}/?week={WEEK}&studio=hot-shop")

    page.locator(f"a.held[href$='.{firing.uid.hex}#piece']").first.focus()
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Segments to key in").press("Enter")
    page.wait_for_url(f"{live_server.url}/firings/{firing.uid}#program")
    page.get_by_label("Log (CSV").set_input_files(log)
    page.get_by_label("Log (CSV").focus()
    while page.evaluate("document.activeElement.tagName") != "BUTTON":
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")

    page.get_by_role("heading", name="The log over the curve").wait_for()
