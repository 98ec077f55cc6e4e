"""The week sheet in a real browser: pieces, days, kinds, the table and paper, with and without JavaScript."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from tests.busy_week import busy_week
from tests.faces.web.bookings import WEEK, a_class
from tests.scenarios.browser.hands import press_access_key
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import Town, local

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# Where letters of one strip meet, or reach beyond it; the foot of their box is empty but for tails.
SPOILT_LABELS = """
[...document.querySelectorAll("svg.strip")].flatMap(strip => {
  const whole = strip.viewBox.baseVal;
  const labels = [...strip.querySelectorAll("text")].map(one => [one.textContent, one.getBBox()]);
  const beyond = labels.filter(([, box]) => box.x < -0.5 || box.x + box.width > whole.width + 0.5
    || box.y < -2 || box.y + box.height > whole.height + 2);
  const met = labels.filter(([, one], number) => labels.some(([, other], after) => after > number
    && one.x < other.x + other.width && other.x < one.x + one.width
    && one.y + 2 < other.y + other.height - 2 && other.y + 2 < one.y + one.height - 2));
  return [...beyond, ...met].map(([words]) => `${strip.getAttribute("aria-label")}: ${words}`);
})
"""


@pytest.mark.parametrize("javascript", [True, False])
@pytest.mark.parametrize("width", [1280, 390])
def test_a_piece_opens_its_details_and_leads_to_its_class(
    chromium: Browser, live_server: LiveServer, town: Town, javascript: bool, width: int
) -> None:
    session = a_class(town)
    context = chromium.new_context(java_script_enabled=javascript, viewport={"width": width, "height": 844})
    page, complaints = context.new_page(), []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/?week={WEEK}&studio=hot-shop")

    page.locator("a.held").first.press("Enter")
    page.get_by_role("heading", name="blowing, Instructor").wait_for()
    assert "piece=" in page.url
    if javascript:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert Axe().run(page, options=RULES).violations_count == 0
    page.get_by_role("link", name="Open the class").click()

    page.wait_for_url(f"{live_server.url}/sessions/{session.uid}")
    context.close()
    assert complaints == []


def test_with_javascript_the_details_come_in_place_and_go_by_escape(
    page: Page, live_server: LiveServer, town: Town
) -> None:
    a_class(town)
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/?week={WEEK}&studio=hot-shop")
    page.evaluate("window.here = true")
    piece = page.locator("a.held").first

    piece.press("Enter")
    page.get_by_role("heading", name="blowing, Instructor").wait_for()
    page.locator("#piece").get_by_role("link", name="hole 1").click()
    page.locator("#piece dd").get_by_text("hole 1").wait_for()
    page.keyboard.press("Escape")

    assert page.locator("#piece").count() == 0
    assert page.evaluate("document.activeElement.classList.contains('held')") is True
    assert page.evaluate("window.here") is True
    assert "piece=" not in page.url


def test_by_keyboard_alone_a_day_a_kind_and_the_table(
    plain: Page, live_server: LiveServer, town: Town
) -> None:
    a_class(town)
    sign_in(plain, live_server, town.student)
    plain.goto(f"{live_server.url}/?week={WEEK}&studio=hot-shop")

    plain.get_by_role("link", name="Tuesday 4 March alone").press("Enter")
    plain.get_by_role("heading", name="Tuesday 4 March 2031").wait_for()
    plain.get_by_role("link", name="Annealers").press("Enter")
    plain.get_by_role("heading", name="annealer 1").wait_for()
    plain.locator("a[accesskey=t]").press("Enter")
    plain.get_by_role("row", name="annealer 1").wait_for()

    assert plain.get_by_role("row", name="hole 1").count() == 0
    assert plain.url.endswith("?day=2031-03-04&studio=hot-shop&kind=annealer&as=table")


@pytest.mark.parametrize("javascript", [True, False])
def test_alt_and_t_make_a_table_of_the_sheet_and_a_sheet_of_the_table(
    chromium: Browser, live_server: LiveServer, town: Town, javascript: bool
) -> None:
    a_class(town)
    context = chromium.new_context(java_script_enabled=javascript)
    page = context.new_page()
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/?week={WEEK}&studio=hot-shop")

    press_access_key(page, "t")
    page.get_by_role("row", name="annealer 1").wait_for()
    assert page.url.endswith("&as=table")
    press_access_key(page, "t")
    page.locator("svg.strip").first.wait_for()

    assert "as=table" not in page.url
    context.close()


def test_another_week_is_a_step_or_a_date_away(plain: Page, live_server: LiveServer, town: Town) -> None:
    a_class(town)
    sign_in(plain, live_server, town.student)
    plain.goto(f"{live_server.url}/?week={WEEK}&kind=kiln")

    plain.get_by_role("link", name="week after").click()
    plain.get_by_role("heading", name="Week 11 of 2031").wait_for()
    plain.get_by_label("Go to a date").fill("2031-05-07")
    plain.get_by_role("button", name="Go", exact=True).click()

    plain.get_by_role("heading", name="Week 19 of 2031").wait_for()
    assert plain.get_by_role("link", name="Kilns").get_attribute("aria-current") == "true"


@pytest.mark.parametrize("width", [1280, 390])
def test_where_forty_pieces_are_never_free_no_label_is_cut_or_meets_another(
    page: Page, live_server: LiveServer, town: Town, width: int
) -> None:
    busy_week(town)
    page.set_viewport_size({"width": width, "height": 844})
    sign_in(page, live_server, town.manager)

    for asked in (f"week={WEEK}", "day=2031-03-04"):
        page.goto(f"{live_server.url}/?{asked}")

        assert page.locator(".strip .label").count() > 20
        assert page.evaluate(SPOILT_LABELS) == []
        assert page.get_by_text("…").count() == 0


def test_both_studios_are_printed_on_one_landscape_page(
    page: Page, live_server: LiveServer, town: Town
) -> None:
    a_class(town)
    a_class(town, "beads", local(2, 18))
    sign_in(page, live_server, town.technician)
    page.goto(f"{live_server.url}/?week={WEEK}")

    paper = page.pdf(prefer_css_page_size=True)

    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 1
    found = re.search(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", paper)
    assert found is not None
    assert float(found[1]) > float(found[2])
