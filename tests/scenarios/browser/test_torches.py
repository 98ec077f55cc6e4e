"""A student with a free evening: a torch, a place in a waiting line, a class seat, pieces and the feed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Seat, SeatStatus
from scheduling.services.seats import cancel_seat
from tests.faces.web.bookings import a_class, a_seat, a_torch
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.worlds import Town, local

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MOST_TABS = 150


@dataclass
class Screen:
    """A browser as one student has it, and what was wrong on the pages that it came to."""

    page: Page
    width: int
    javascript: bool
    wrong: list[str] = field(default_factory=list)

    def look(self, heading: str) -> None:
        """At this page: nothing is cut off sideways, and the rules of WCAG hold."""
        self.page.get_by_role("heading", name=heading).first.wait_for()
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        if wide > self.width:
            self.wrong.append(f"{heading}: {wide} px wide")
        if self.javascript:
            found = Axe().run(self.page, options=RULES)
            if found.violations_count:
                self.wrong.append(f"{heading}: {found.generate_report()}")

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def follow(self, name: str) -> None:
        self.page.get_by_role("link", name=name).first.click()


@pytest.fixture(
    params=[(1280, "light", True), (390, "dark", True), (1280, "dark", False), (390, "light", False)],
    ids=["wide-light", "phone-dark", "wide-dark-without-javascript", "phone-light-without-javascript"],
)
def screen(request: pytest.FixtureRequest, chromium: Browser) -> Iterator[Screen]:
    """Both widths, by day and by night, with JavaScript and without."""
    width, scheme, javascript = request.param
    context = chromium.new_context(
        viewport={"width": width, "height": 844}, color_scheme=scheme, java_script_enabled=javascript
    )
    seen = Screen(page=context.new_page(), width=width, javascript=javascript)
    seen.page.on("console", lambda said: seen.wrong.append(said.text) if said.type == "error" else None)
    seen.page.on("pageerror", lambda error: seen.wrong.append(str(error)))
    yield seen
    context.close()


def test_a_free_evening_becomes_a_torch_a_class_seat_and_a_feed(
    screen: Screen, live_server: LiveServer, town: Town
) -> None:
    a_torch(town, 1, town.technician)
    full = a_class(town, "boro", local(3, 18))
    taken = a_seat(full, town.other_student)
    sign_in(screen.page, live_server, town.student)

    _reserve_a_torch(screen)
    file = screen.page.request.get(live_server.url + (_address(screen.page, "Add to calendar") or ""))
    _wait_in_line(screen)
    cancel_seat(actor=town.other_student, seat=taken)
    _take_what_is_offered(screen)
    _make_a_link(screen)

    assert screen.wrong == []
    torch, seat = Seat.objects.filter(status=SeatStatus.BOOKED, person=town.student).order_by("starts_at")
    assert (torch.torch, torch.starts_at, seat.session) == (town.torches[5], local(2, 12), full)
    assert file.headers["content-type"].startswith("text/calendar")
    assert file.text().count("BEGIN:VEVENT") == 1
    assert str(torch.uid) in file.text()


def _reserve_a_torch(screen: Screen) -> None:
    """Chosen on the plan, changed for another one, reserved."""
    page = screen.page
    screen.look("My seats")
    screen.follow("Look for a free torch")
    page.get_by_label("Day").fill("2031-03-05")
    page.get_by_label("From").fill("12:00")
    page.get_by_label("To", exact=True).fill("14:00")
    screen.press("Show the bench")
    screen.look("Flame, Wed 5 Mar, 12:00 to 14:00")
    screen.press("Reserve torch 5")
    screen.look("torch 5")
    screen.follow("Another torch or other hours")
    screen.press("Take instead: torch 6")
    screen.press("Reserve it")
    screen.look("What comes next for you")


def _wait_in_line(screen: Screen) -> None:
    """A full class has a line, and my seats say at which place in it one stands."""
    screen.page.get_by_text("Full classes, each with a waiting line").click()
    screen.follow("boro")
    screen.look("boro")
    screen.press("Join the waiting line")
    screen.page.get_by_text("You are number 1 in the waiting line.").wait_for()
    screen.follow("My seats")
    screen.look("Waiting lines")


def _take_what_is_offered(screen: Screen) -> None:
    """It is reserved like any other, and says when the pieces can be collected."""
    screen.page.reload()
    screen.look("Kept for you")
    screen.follow("Go on and reserve")
    screen.look("boro")
    screen.press("Reserve it")
    screen.page.get_by_text("pieces to be collected from").first.wait_for()


def _make_a_link(screen: Screen) -> None:
    """A calendar that follows."""
    screen.follow("Have all of them in your calendar")
    screen.page.locator("input[name=label]").fill("my phone")
    screen.page.get_by_role("button", name="Make a link").click()
    screen.page.get_by_text("The link is made.").wait_for()


def _address(page: Page, link: str) -> str | None:
    return page.get_by_role("link", name=link).first.get_attribute("href")


def test_a_torch_is_reserved_and_given_back_by_keyboard_alone(
    page: Page, live_server: LiveServer, town: Town
) -> None:
    sign_in(page, live_server, town.student)
    page.goto(f"{live_server.url}/torches?studio=flame&day=2031-03-05&starts=12:00&ends=14:00")

    _go_to(page, "Reserve torch 5")
    page.keyboard.press("Enter")
    page.get_by_text("is kept for you until").wait_for()
    _go_to(page, "Reserve it")
    page.keyboard.press("Enter")
    page.get_by_text("What comes next for you").wait_for()
    reserved = Seat.objects.get()
    _go_to(page, "Give back: bench time, Wed 5 Mar, 12:00")
    page.keyboard.press("Enter")
    page.get_by_text("Torch 5 is free again.").wait_for()

    assert (reserved.torch, reserved.status) == (town.torches[4], SeatStatus.BOOKED)
    assert Seat.objects.get().status == SeatStatus.CANCELLED


def _go_to(page: Page, name: str) -> None:
    """By the Tab key, as far as it takes."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if name == page.evaluate(
            "document.activeElement.getAttribute('aria-label') || document.activeElement.textContent.trim()"
        ):
            return
    raise AssertionError(f"The keyboard does not reach {name}.")
