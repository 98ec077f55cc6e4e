"""The pages in a real browser: on a phone, by keyboard, without JavaScript, and by the rules of WCAG."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Seat, Session
from studios.models import Person
from tests.faces.web.bookings import WEEK, a_class, a_seat
from tests.worlds import Town, local

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


def sign_in(page: Page, server: LiveServer, person: Person) -> None:
    """As a person does: with address and password."""
    page.goto(f"{server.url}/sign-in")
    page.get_by_label("E-mail").fill(person.email)
    page.get_by_label("Password").fill("glass")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: "/sign-in" not in address)


def paths(town: Town) -> list[str]:
    """Every page with something on it."""
    session = a_class(town, "beads")
    a_seat(session, town.student)
    return [
        f"/?week={WEEK}",
        "/?day=2031-03-04",
        "/book",
        "/book?course=beads&studios=flame&first_day=2031-03-04&last_day=2031-03-06&time=18:00",
        "/book?course=beads&studios=flame&first_day=2031-03-04&last_day=2031-03-06&time=18:00&order=energy",
        "/book/weekly",
        "/book/weekly?course=beads&studio=flame&first_day=2031-03-11&weeks=3&time=18:00",
        "/book/weekly?course=beads&studio=flame&first_day=2031-03-04&weeks=3&time=18:00",
        f"/sessions/{session.uid}",
        f"/firings/{session.loads.get().firing.uid}",
        "/torches?studio=flame&day=2031-03-05&starts=12:00&ends=14:00",
        "/my-seats",
        "/calendars",
        "/cautions",
        "/nothing-here",
    ]


def test_no_page_scrolls_sideways_on_a_phone(page: Page, live_server: LiveServer, town: Town) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    addresses = paths(town)
    sign_in(page, live_server, town.instructor)

    for address in addresses:
        page.goto(live_server.url + address)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390, (address, wide)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_keeps_the_rules_of_wcag_aa(
    chromium: Browser, live_server: LiveServer, town: Town, scheme: str
) -> None:
    dark = scheme == "dark"
    context = chromium.new_context(color_scheme="dark" if dark else "light")
    page = context.new_page()
    addresses = paths(town)
    sign_in(page, live_server, town.instructor)

    wrong = {}
    for address in ["/sign-in", *addresses]:
        page.goto(live_server.url + address)
        result = Axe().run(page, options=RULES)
        if result.violations_count:
            wrong[address] = result.generate_report()
    context.close()

    assert wrong == {}


def test_a_class_is_booked_and_a_torch_reserved_without_javascript(
    plain: Page, live_server: LiveServer, town: Town
) -> None:
    sign_in(plain, live_server, town.instructor)
    plain.get_by_role("navigation", name="Pages").get_by_role("link", name="Book a class").click()
    plain.get_by_label("Course").select_option(label="blowing")
    plain.get_by_label("From").fill("2031-03-04")
    plain.get_by_label("To", exact=True).fill("2031-03-04")
    plain.get_by_role("button", name="Find starts").click()
    plain.get_by_role("button", name="Book Tue 4 Mar, 18:00 at Hot shop").click()
    plain.get_by_role("heading", name="blowing", level=1).wait_for()
    plain.get_by_role("button", name="Sign out").click()

    sign_in(plain, live_server, town.student)
    plain.goto(f"{live_server.url}/torches?studio=flame&day=2031-03-05&starts=12:00&ends=14:00")
    plain.get_by_role("button", name="Reserve torch 5").click()
    plain.get_by_role("button", name="Reserve it").click()
    plain.get_by_role("heading", name="My seats").wait_for()

    assert Session.objects.get().starts_at == local(1, 18)
    assert Seat.objects.get().torch == town.torches[4]


def test_a_weekly_class_is_booked_in_four_steps_without_javascript(
    plain: Page, live_server: LiveServer, town: Town
) -> None:
    a_class(town)
    sign_in(plain, live_server, town.instructor)
    plain.goto(f"{live_server.url}/book/weekly")
    plain.get_by_label("Course").select_option(label="blowing")
    plain.get_by_label("Studio").select_option(label="Hot shop")
    plain.get_by_label("Every week from").fill("2031-03-04")
    plain.get_by_label("Meetings").fill("3")

    plain.get_by_role("button", name="Find times").click()
    plain.get_by_role("heading", name="18:00 does not work in 1 of 3 weeks, and this is why").wait_for()
    plain.get_by_role("link", name="Leave out Tue 4 Mar, 18:00 and meet a week longer").click()
    plain.get_by_role("button", name="Book all 3 meetings").click()

    plain.get_by_role("heading", name="blowing", level=1).wait_for()
    starts = Session.objects.exclude(series=None).values_list("starts_at", flat=True).order_by("starts_at")
    assert list(starts) == [local(8, 18), local(15, 18), local(22, 18)]


def test_a_weekly_class_is_booked_by_keyboard_alone(page: Page, live_server: LiveServer, town: Town) -> None:
    sign_in(page, live_server, town.instructor)
    asked = "course=blowing&studio=hot-shop&first_day=2031-03-04&weeks=2&time=12:00"
    page.goto(f"{live_server.url}/book/weekly?{asked}")

    page.locator(".picks a").last.focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Book all 2 meetings").focus()
    page.keyboard.press("Enter")

    page.get_by_role("heading", name="blowing", level=1).wait_for()
    assert Session.objects.count() == 2


def test_with_javascript_the_bench_changes_in_place_and_the_address_with_it(
    page: Page, live_server: LiveServer, town: Town
) -> None:
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/torches?studio=flame&day=2031-03-05&starts=12:00&ends=14:00")
    page.evaluate("window.here = true")

    page.get_by_label("Day").fill("2031-03-06")
    page.get_by_role("button", name="Show the bench").click()

    page.get_by_role("heading", name="Flame, Thu 6 Mar, 12:00 to 14:00").wait_for()
    assert "day=2031-03-06" in page.url
    assert page.evaluate("window.here") is True


def test_the_keyboard_reaches_the_content_and_a_strip(
    page: Page, live_server: LiveServer, town: Town
) -> None:
    session = a_class(town)
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/?week={WEEK}&studio=hot-shop")

    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    page.locator(".strip a.held").first.focus()
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Open the class").press("Enter")

    page.wait_for_url(f"{live_server.url}/sessions/{session.uid}")


def test_a_strict_content_policy_breaks_nothing(page: Page, live_server: LiveServer, town: Town) -> None:
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.route("**/*", _with_policy)
    addresses = [address for address in paths(town) if address != "/nothing-here"]
    sign_in(page, live_server, town.instructor)

    for address in addresses:
        page.goto(live_server.url + address)

    assert complaints == []


def _with_policy(route: Route) -> None:
    response = route.fetch(max_redirects=0)
    policy = {"content-security-policy": "default-src 'self'; object-src 'none'; base-uri 'none'"}
    route.fulfill(response=response, headers={**response.headers, **policy})


def test_on_a_phone_the_sheet_begins_where_now_is(page: Page, live_server: LiveServer, town: Town) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    sign_in(page, live_server, town.student)

    page.goto(f"{live_server.url}/")

    now = page.locator(".strip .now").first
    frame = page.locator("[data-frame]").first.bounding_box()
    seen = now.bounding_box()
    assert frame is not None
    assert seen is not None
    assert frame["x"] <= seen["x"] <= frame["x"] + frame["width"]
