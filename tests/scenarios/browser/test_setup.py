"""A new manager with an empty studio sets it up in a browser, until its first class is booked."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Locator, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Session
from studios.models import Membership, Person, Role, Studio

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
# As docs/pages.md says it.
STEPS = 43


@dataclass
class Manager:
    """Somebody at the pages who counts what it takes, by mouse or by keyboard; each page is looked at."""

    page: Page
    keyboard: bool
    rules: bool
    steps: int = 0
    wrong: list[str] = field(default_factory=list)

    def go(self, role: Literal["link", "button"], name: str) -> None:
        """Follow a link or press a button."""
        target = self.page.get_by_role(role, name=name).first
        with self.page.expect_navigation():
            self._press(target, "Enter")
        self.look()

    def open(self, name: str) -> None:
        self._press(self.page.locator("summary", has_text=name), "Enter")

    def tick(self, name: str) -> None:
        self._press(self.page.get_by_label(name, exact=True), "Space")

    def fill(self, label: str, text: str) -> None:
        self.page.get_by_label(re.compile(rf"^{re.escape(label)}( \(|$)")).fill(text)
        self.steps += 1

    def choose(self, label: str, option: str) -> None:
        self.page.get_by_label(label, exact=True).first.select_option(label=option)
        self.steps += 1

    def _press(self, target: Locator, key: str) -> None:
        if self.keyboard:
            target.focus()
            self.page.keyboard.press(key)
        else:
            target.click()
        self.steps += 1

    def look(self) -> None:
        """The page does not scroll sideways and, where a script can ask them, keeps the rules."""
        found = Axe().run(self.page, options=RULES) if self.rules else None
        if found and found.violations_count:
            self.wrong.append(f"{self.page.url}: {found.generate_report()}")
        wide = self.page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        if wide > 0:
            self.wrong.append(f"{self.page.url} scrolls sideways by {wide} px")


@pytest.fixture
def manager() -> Person:
    """Somebody who manages a studio in which nothing is yet."""
    person = Person.objects.create_user("loft@town.example", "glass", name="Loft Manager")
    studio = Studio.objects.create(name="Kiln loft", slug="kiln-loft", time_zone="America/Chicago")
    Membership.objects.create(person=person, studio=studio, role=Role.MANAGER)
    return person


@dataclass(frozen=True, kw_only=True)
class Way:
    """How somebody reads: with JavaScript or without, on a wide screen or a phone, by day or by night."""

    script: bool
    width: int
    dark: bool
    keyboard: bool


WAYS = {
    "wide, light, by keyboard": Way(script=True, width=1280, dark=False, keyboard=True),
    "phone, dark": Way(script=True, width=390, dark=True, keyboard=False),
    "phone, without JavaScript": Way(script=False, width=390, dark=False, keyboard=False),
}


@pytest.fixture(params=list(WAYS.values()), ids=list(WAYS))
def visitor(request: pytest.FixtureRequest, chromium: Browser) -> Iterator[Manager]:
    way: Way = request.param
    context = chromium.new_context(
        java_script_enabled=way.script,
        viewport={"width": way.width, "height": 844},
        color_scheme="dark" if way.dark else "light",
    )
    visitor = Manager(page=context.new_page(), keyboard=way.keyboard, rules=way.script)
    visitor.page.on("console", lambda said: visitor.wrong.append(said.text) if said.type == "error" else None)
    visitor.page.on("pageerror", lambda error: visitor.wrong.append(str(error)))
    yield visitor
    context.close()


def test_an_empty_studio_is_set_up_until_its_first_class_is_booked(
    visitor: Manager, live_server: LiveServer, manager: Person
) -> None:
    sign_in(visitor.page, live_server, manager)

    go_to_set_up(visitor)
    open_up(visitor)
    equip(visitor)
    offer_a_course(visitor)
    find_a_teacher(visitor)
    visitor.go("link", "Find a start for Loft beads")
    visitor.go("button", "Book")

    session = Session.objects.get()
    assert (session.course.name, session.instructor) == ("Loft beads", manager)
    assert session.starts_at - timezone.now() < dt.timedelta(days=15)
    assert visitor.wrong == []
    assert visitor.steps == STEPS


def sign_in(page: Page, server: LiveServer, person: Person) -> None:
    page.goto(f"{server.url}/sign-in")
    page.get_by_label("E-mail").fill(person.email)
    page.get_by_label("Password").fill("glass")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{server.url}/")


def go_to_set_up(visitor: Manager) -> None:
    """It stands among the pages of the office."""
    visitor.open("Office")
    visitor.go("link", "Set-up")


def open_up(visitor: Manager) -> None:
    """From Monday to Friday somebody is there."""
    visitor.go("link", "Say when somebody is")
    visitor.fill("From", "08:00")
    visitor.fill("Until", "22:00")
    visitor.go("button", "Add hours")
    visitor.go("link", "Kiln loft")


def equip(visitor: Manager) -> None:
    """Four torches, and an annealer whose numbers are estimates but for its plate."""
    visitor.go("link", "Add some")
    visitor.go("link", "Add: torch")
    visitor.fill("To number", "4")
    visitor.go("button", "Add it")
    visitor.go("link", "Add: annealer")
    visitor.fill("Room on its shelves", "2400")
    visitor.fill("Full power", "6")
    visitor.go("button", "Add it")
    visitor.go("link", "Kiln loft")


def offer_a_course(visitor: Manager) -> None:
    """A glass of a family, and a course in it."""
    visitor.go("link", "Add one: There is no glass.")
    visitor.go("button", "Add: Soft lampworking glass")
    visitor.go("link", "Kiln loft")
    visitor.go("link", "Add one: No course is taught here.")
    visitor.fill("Name", "Loft beads")
    visitor.fill("Length", "150")
    visitor.fill("Seats", "4")
    visitor.fill("Torches", "4")
    visitor.fill("Annealer for its pieces", "1")
    visitor.choose("Glass", "Soft lampworking glass")
    visitor.choose("Shape of a piece", "bead")
    visitor.fill("Thickest place", "14")
    visitor.go("button", "Add it")


def find_a_teacher(visitor: Manager) -> None:
    """Who manages it teaches, too, and is signed off."""
    visitor.go("link", "Give somebody the role instructor")
    visitor.choose("Person", "Loft Manager")
    visitor.choose("Role", "instructor")
    visitor.go("button", "Give the role")
    go_to_set_up(visitor)
    visitor.go("link", "Sign somebody off")
    visitor.go("link", "Loft Manager: sign-offs")
    visitor.tick("torch")
    visitor.tick("annealer")
    visitor.go("button", "Keep it")
    visitor.go("link", "Kiln loft")
