"""One person's way through the pages of a server; whatever is wrong on any of them is written down."""

from __future__ import annotations

import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal
from urllib.parse import urlsplit

import icalendar
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Locator, Page, Response, expect

from scheduling.project.policy import HEADER, POLICY
from tests.scenarios.browser.hands import Hands, Keyboard, Pointer
from tests.scenarios.browser.pictures import PASSWORD
from tests.scenarios.browser.test_every_address import RULES

MOST_MS = 60_000
# Folded away is not left out: it is unfolded, looked at, and folded again.
UNFOLD = "for (const one of document.querySelectorAll('details:not([open])')) one.open = one.shut = true"
FOLD = "for (const one of document.querySelectorAll('details')) if (one.shut) one.open = one.shut = false"


@dataclass(frozen=True, kw_only=True)
class Way:
    """How somebody looks at the pages, and how they press."""

    width: Literal[1280, 390]
    scheme: Literal["light", "dark"]
    scripts: bool
    keyboard: bool

    def __str__(self) -> str:
        javascript = "javascript" if self.scripts else "plain"
        return f"{self.width}-{self.scheme}-{javascript}-{'keyboard' if self.keyboard else 'pointer'}"

    def opened(self, chromium: Browser) -> BrowserContext:
        return chromium.new_context(
            viewport={"width": self.width, "height": 844},
            color_scheme=self.scheme,
            java_script_enabled=self.scripts,
            locale="en-GB",
        )


# A keyboard at a narrow screen is also whoever enlarges a wide one.
WAYS = [
    Way(width=1280, scheme="light", scripts=False, keyboard=True),
    Way(width=1280, scheme="dark", scripts=True, keyboard=False),
    Way(width=390, scheme="light", scripts=True, keyboard=False),
    Way(width=390, scheme="dark", scripts=False, keyboard=False),
    Way(width=390, scheme="dark", scripts=True, keyboard=True),
]


@dataclass
class Walk:
    """Somebody at a browser. Every press says what is to be read on the page that it leads to."""

    page: Page
    way: Way
    home: str
    wrong: list[str] = field(default_factory=list)

    @classmethod
    def begun(cls, context: BrowserContext, way: Way, home: str) -> Walk:
        walk = cls(page=context.new_page(), way=way, home=home)
        context.set_default_timeout(MOST_MS)
        context.on("console", walk._hear)
        context.on("weberror", lambda told: walk.wrong.append(f"{walk.page.url}: {told.error}"))
        context.on("request", lambda sent: walk._stay_at_home(sent.url))
        context.on("response", walk._read_policy)
        return walk

    def sign_in(self, key: str) -> None:
        self.page.goto(f"{self.home}/sign-in")
        self.look()
        self.write("E-mail", f"{key}@tarnhollow.example")
        self.write("Password", PASSWORD)
        self.press("Sign in", then="by the clocks of")

    def follow(self, link: str, then: str, within: Locator | None = None) -> None:
        self._press((within or self.page).get_by_role("link", name=link).first, then)

    def press(self, button: str, then: str, within: Locator | None = None) -> None:
        self._press((within or self.page).get_by_role("button", name=button).first, then)

    def unfold(self, words: str) -> None:
        self.hands.press(self.page.locator("summary", has_text=words))

    def write(self, label: str, text: str) -> None:
        self.hands.write(self.page.get_by_label(label).first, text)

    def choose(self, label: str, option: str) -> None:
        self.hands.choose(self.page.get_by_label(label).first, option)

    def sees(self, *words: str, at: Locator | None = None) -> None:
        for each in words:
            expect(at or self.page.locator("main")).to_contain_text(each, ignore_case=True, timeout=MOST_MS)

    def calendar(self, link: str) -> list[icalendar.Event]:
        """A link is made, and read as a calendar program reads it: with the address and nothing else."""
        self.write("What is the link for?", link)
        self.press("Make a link", then="The link is made.")
        address = self.page.get_by_label("Address for your calendar program").input_value()
        with urllib.request.urlopen(address) as answer:
            read = icalendar.Calendar.from_ical(answer.read())
        return [event for event in read.walk("VEVENT") if isinstance(event, icalendar.Event)]

    @property
    def hands(self) -> Hands:
        return Keyboard(self.page) if self.way.keyboard else Pointer()

    def look(self) -> None:
        """Nothing is cut off sideways, and the rules of WCAG hold."""
        self.page.wait_for_load_state()
        self.page.evaluate(UNFOLD)
        self.wrong.extend(f"{self.page.url}: {fault}" for fault in self._faults())
        self.page.evaluate(FOLD)

    def _press(self, what: Locator, then: str) -> None:
        self.hands.press(what)
        self.sees(then)
        self.look()

    def _faults(self) -> Iterator[str]:
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        if wide > self.way.width:
            yield f"{wide} px wide"
        if self.way.scripts and (found := Axe().run(self.page, options=RULES)).violations_count:
            yield found.generate_report()

    def _hear(self, said: ConsoleMessage) -> None:
        if said.type in {"error", "warning"}:
            self.wrong.append(f"{self.page.url}: {said.text}")

    def _stay_at_home(self, address: str) -> None:
        if f"http://{urlsplit(address).netloc}" != self.home:
            self.wrong.append(f"{self.page.url} asks for {address}")

    def _read_policy(self, answer: Response) -> None:
        if (policy := answer.headers.get(HEADER.lower())) != POLICY:
            self.wrong.append(f"{answer.url} comes under the policy {policy}")
