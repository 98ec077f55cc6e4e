"""The technician's day: what is hot and until when, what to do, where a repair breaks nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect
from pytest_django.live_server_helper import LiveServer

from scheduling.models import ActualKind, Collection, Outage, Session, Tick
from tests.scenarios.browser.test_pages import RULES, sign_in
from tests.services.test_booking import book
from tests.services.test_pick_up import sits
from tests.worlds import Town, local

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# With gloves on: a finger finds this.
TARGET_PX = 56
# However busy the machine is.
MOST_MS = 120_000
expect.set_options(timeout=MOST_MS)
PRESSED = ".duty-do button, .duty-do .button, .reading button, .reading input, .fits a, .big-buttons button"


@dataclass(frozen=True, kw_only=True)
class Way:
    """How somebody looks at the pages, and how they press."""

    width: int
    scheme: Literal["light", "dark"]
    scripts: bool
    keyboard: bool


WAYS = [
    Way(width=1280, scheme="light", scripts=True, keyboard=True),
    Way(width=390, scheme="dark", scripts=True, keyboard=False),
    Way(width=390, scheme="light", scripts=False, keyboard=False),
]


@dataclass(frozen=True, kw_only=True)
class Hand:
    """Somebody's hand on a page, and what the page complained of."""

    page: Page
    way: Way
    complaints: list[str]

    def press(self, what: Locator) -> None:
        if self.way.keyboard:
            what.focus()
            self.page.keyboard.press("Enter")
        else:
            what.click()

    def look(self) -> None:
        """By the rules of WCAG, no wider than the screen, and wide enough for a glove."""
        assert self.complaints == []
        if not self.way.scripts:
            return
        result = Axe().run(self.page, options=RULES)
        assert result.violations_count == 0, result.generate_report()
        assert self.page.evaluate("document.documentElement.scrollWidth") <= self.way.width
        if self.way.width < 700:
            shown = [one.bounding_box() for one in self.page.locator(PRESSED).all() if one.is_visible()]
            assert [box for box in shown if box is not None and box["height"] < TARGET_PX] == []


Hands = Callable[[Way], Hand]


@pytest.fixture
def hand(chromium: Browser) -> Iterator[Hands]:
    """A fresh browser that looks as it is said."""
    contexts = []

    def as_said(way: Way) -> Hand:
        context = chromium.new_context(
            viewport={"width": way.width, "height": 860},
            color_scheme=way.scheme,
            java_script_enabled=way.scripts,
            locale="en-GB",
        )
        context.set_default_timeout(MOST_MS)
        contexts.append(context)
        page, complaints = context.new_page(), []
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return Hand(page=page, way=way, complaints=complaints)

    yield as_said
    for context in contexts:
        context.close()


def a_class(town: Town) -> Session:
    """A blowing class on Tuesday at six, with one student in it."""
    session = book(town, "blowing", local(1, 18))
    sits(session, town.student, 1)
    return session


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_technicians_day(hand: Hands, live_server: LiveServer, town: Town, way: Way) -> None:
    with time_machine.travel(local(0, 9)) as clock:
        session = a_class(town)
        clock.move_to(local(1, 19))
        at = hand(way)
        sign_in(at.page, live_server, town.technician)

        _sees_what_is_hot(at)
        _records_and_ticks(at)
        assert session.loads.get().firing.actuals.get().kind == ActualKind.TEMPERATURE
        assert {tick.said.split(" (")[0] for tick in Tick.objects.all()} == {"Light hole 1"}

        clock.move_to(local(2, 12))
        _unloads_onto_a_shelf(at, live_server)
        assert Collection.objects.get().pick_up.shelf == "shelf 3"

        _puts_a_repair_where_it_breaks_nothing(at, live_server)
        assert Outage.objects.get().reason == "a new element"


def _sees_what_is_hot(at: Hand) -> None:
    """Two presses from anywhere: the round, and what it says of the annealer."""
    at.press(at.page.get_by_role("navigation", name="Pages").get_by_role("link", name="Round"))
    at.page.get_by_role("heading", name="The day’s round", level=1).wait_for()
    if at.page.get_by_role("navigation", name="Studios").count():
        at.press(at.page.get_by_role("navigation", name="Studios").get_by_role("link", name="Hot shop"))
    annealer = at.page.locator(".hot", has=at.page.get_by_role("heading", name="annealer 1"))
    expect(annealer).to_contain_text("510 °C")
    expect(annealer).to_contain_text("blowing: anneal, Instructor")
    expect(annealer).to_contain_text("cool enough to open")
    at.look()


def _records_and_ticks(at: Hand) -> None:
    """A field and a press for a temperature; one press for a tick."""
    at.page.get_by_label("Temperature read now (°C)").fill("505")
    at.press(at.page.get_by_role("button", name="Record the temperature of annealer 1"))
    expect(at.page.locator(".hot", has_text="last read").first).to_contain_text("505 °C")
    at.press(at.page.get_by_role("button", name="Done: Light hole 1"))
    expect(at.page.locator(".duty-done")).to_contain_text(["Ticked Tue 4 Mar, 19:"])


def _unloads_onto_a_shelf(at: Hand, server: LiveServer) -> None:
    """What was not ticked stays on top; unloading leads to the shelf, and from there to Pick-up."""
    at.page.goto(f"{server.url}/round?studio=hot-shop")
    expect(at.page.locator(".left-over")).to_contain_text("Light warmer 1")
    at.look()
    at.press(at.page.get_by_role("link", name="Unload onto shelves: annealer 1"))
    at.page.get_by_label("blowing: ").fill("shelf 3")
    at.press(at.page.get_by_role("button", name="Unloaded now"))
    at.page.get_by_role("heading", name="Pick-up", level=1).wait_for()
    expect(at.page.locator(".handing")).to_contain_text(["shelf 3"])
    at.look()


def _puts_a_repair_where_it_breaks_nothing(at: Hand, server: LiveServer) -> None:
    """Something needs a repair, which, when, why, and it is out of use."""
    at.page.goto(f"{server.url}/round?studio=hot-shop")
    at.press(at.page.locator(".repairs > summary"))
    at.press(at.page.locator(".repairs").get_by_role("link", name="annealer 1"))
    at.page.get_by_role("heading", name="Where a repair breaks nothing").wait_for()
    at.press(at.page.locator(".fits a").first)
    at.page.get_by_label("Why").fill("a new element")
    at.press(at.page.get_by_role("button", name="Take it out of use"))
    at.page.get_by_role("heading", name="It breaks nothing that is booked").wait_for()
    at.look()
