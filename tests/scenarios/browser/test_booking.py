"""An instructor books a class in a real browser: anew, again, every week, at two studios; and counts."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Session
from tests.faces.web.bookings import a_class
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import KILN, Town, add_equipment, local

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
TUESDAY = "day=2031-03-04"
BOTH = "course=tiles&studios=flame&studios=hot-shop&first_day=2031-03-05&last_day=2031-03-05&time=18:00"


def tiles_at_both(town: Town) -> None:
    """A course at two studios, half an hour apart; its teacher is at the one on Wednesday until three."""
    add_equipment(town, town.hot_shop, "kiln", "spare kiln", capacity_cm2=3000, body=KILN)
    add_equipment(town, town.hot_shop, "cold-station", "spare saw")
    town.courses["tiles"].studios.add(town.hot_shop)
    a_class(town, "beads", local(2, 12))


@pytest.mark.parametrize("javascript", [True, False])
def test_another_course_is_booked_in_four_interactions_and_again_in_two(
    chromium: Browser, live_server: LiveServer, town: Town, javascript: bool
) -> None:
    context = chromium.new_context(java_script_enabled=javascript)
    page = context.new_page()
    sign_in(page, live_server, town.instructor)

    page.goto(f"{live_server.url}/")
    page.get_by_role("navigation", name="Pages").get_by_role("link", name="Book a class").click()
    page.get_by_label("Course").select_option(label="blowing")
    page.get_by_role("button", name="Find starts").click()
    page.locator(".option").get_by_role("button", name="Book ").first.click()
    page.get_by_role("heading", name="blowing", level=1).wait_for()

    page.goto(f"{live_server.url}/")
    page.get_by_role("navigation", name="Pages").get_by_role("link", name="Book a class").click()
    page.locator(".option").get_by_role("button", name="Book ").nth(1).click()
    page.get_by_role("heading", name="blowing", level=1).wait_for()

    context.close()
    assert Session.objects.count() == 2


def test_a_class_is_booked_by_keyboard_alone(page: Page, live_server: LiveServer, town: Town) -> None:
    sign_in(page, live_server, town.instructor)
    page.goto(f"{live_server.url}/")

    press(page, "Book a class", "Enter")
    page.get_by_role("heading", name="Book a class", level=1).wait_for()
    press(page, "Choose a course", "b", "o")
    press(page, "Find starts", "Enter")
    page.get_by_role("heading", name="starts that work").wait_for()
    press(page, "Book ", "Enter")

    page.get_by_role("heading", name="boro", level=1).wait_for()
    assert Session.objects.get().instructor == town.instructor


def press(page: Page, words: str, *keys: str) -> None:
    """Tab on until what begins with some words has the focus, and press keys there."""
    named = "(e => e.getAttribute('aria-label') || e.innerText || '')(document.activeElement)"
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate(named).strip().startswith(words):
            break
    else:
        pytest.fail(f"{words} was not reached")
    for key in keys:
        page.keyboard.press(key)


@pytest.mark.parametrize("javascript", [True, False])
def test_a_refused_wish_says_why_and_the_nearest_start_is_one_click_away(
    chromium: Browser, live_server: LiveServer, town: Town, javascript: bool
) -> None:
    context = chromium.new_context(java_script_enabled=javascript)
    page, first = context.new_page(), a_class(town)
    sign_in(page, live_server, town.instructor)
    page.goto(f"{live_server.url}/?{TUESDAY}&studio=hot-shop")

    page.get_by_role("link", name="book a class on this day").click()
    page.get_by_text("Instructor has blowing from Tue 4 Mar 18:00").wait_for()
    nearest = page.get_by_role("button", name="Book instead")
    assert nearest.count() == 2
    nearest.first.click()

    page.get_by_role("heading", name="blowing", level=1).wait_for()
    context.close()
    there = Session.objects.exclude(pk=first.pk).get()
    assert there.ends_at == first.starts_at or there.starts_at == first.ends_at


@pytest.mark.parametrize(("width", "beside"), [(1280, True), (390, False)])
def test_two_studios_stand_side_by_side_with_the_way_between(
    page: Page, live_server: LiveServer, town: Town, width: int, beside: bool
) -> None:
    tiles_at_both(town)
    page.set_viewport_size({"width": width, "height": 900})
    sign_in(page, live_server, town.instructor)

    page.goto(f"{live_server.url}/book?{BOTH}")

    flame, hot_shop = (page.locator(".sides > .option").nth(at).bounding_box() for at in (0, 1))
    assert flame is not None
    assert hot_shop is not None
    assert (flame["y"] == hot_shop["y"]) is beside
    page.get_by_text("Before it beads, here until 15:00: 3 h between.").wait_for()
    page.get_by_text("Before it beads at Flame until 15:00: 30 min on the way leave 2 h 30 min.").wait_for()


@pytest.mark.parametrize("javascript", [True, False])
def test_another_course_every_week_takes_four_interactions_too(
    chromium: Browser, live_server: LiveServer, town: Town, javascript: bool
) -> None:
    context = chromium.new_context(java_script_enabled=javascript)
    page = context.new_page()
    sign_in(page, live_server, town.instructor)

    page.goto(f"{live_server.url}/")
    page.get_by_role("navigation", name="Pages").get_by_role("link", name="Book a class").click()
    page.get_by_label("Course").select_option(label="beads")
    page.get_by_role("button", name="Find times every week").click()
    page.get_by_role("button", name="Book all 6 meetings").click()

    page.get_by_role("heading", name="beads", level=1).wait_for()
    context.close()
    assert Session.objects.filter(studio=town.flame).count() == 6


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_every_answer_keeps_the_rules_of_wcag_aa(
    chromium: Browser, live_server: LiveServer, town: Town, scheme: str, width: int
) -> None:
    tiles_at_both(town)
    session, dark = a_class(town), scheme == "dark"
    context = chromium.new_context(
        color_scheme="dark" if dark else "light", viewport={"width": width, "height": 844}
    )
    page, wrong, complaints = context.new_page(), list[str](), list[str]()
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in(page, live_server, town.instructor)

    for address in (
        f"/book?{BOTH}&over_by=21:00",
        "/book?course=blowing&studios=hot-shop&first_day=2031-03-03&last_day=2031-03-12&time=18:00&order=attended",
        "/book?course=blowing&studios=hot-shop&first_day=2031-03-03&last_day=2031-03-23&time=22:00",
        "/book/weekly?course=blowing&studio=hot-shop&first_day=2031-03-04&weeks=3&time=18:00",
        "/book/weekly?course=blowing&studio=hot-shop&first_day=2031-03-11&weeks=3&time=18:00",
        f"/sessions/{session.uid}/move?day=2031-03-05&time=18:00",
        f"/sessions/{session.uid}/move?day=2031-03-06&time=22:00",
    ):
        page.goto(live_server.url + address)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
        result = Axe().run(page, options=RULES)
        wrong.extend([f"{address} {result.generate_report()}"] if result.violations_count else [])
    context.close()

    assert wrong == []
    assert complaints == []
