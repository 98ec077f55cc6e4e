"""Every page of the table of addresses in a real browser: by the rules of WCAG, quiet, and at home.

The browser's requests are answered by the application in this very process, so that the world of one page is
rolled back before the next.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal
from urllib.parse import urlencode, urlsplit

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser, Page, Route

from scheduling.project.policy import HEADER, POLICY
from studios.models import Person, Role
from tests.faces.permissions import pages
from tests.faces.permissions.cast import MONDAY_NINE, Cast
from tests.faces.permissions.table import ANYBODY, Row
from tests.worlds import Town

pytestmark = [pytest.mark.browser, pytest.mark.django_db]
# A name that a browser trusts without a certificate.
HOME = "http://localhost"
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
WIDTHS = (1280, 390)
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
MAY_MOST = (Role.MANAGER, Role.TECHNICIAN, Role.INSTRUCTOR, Role.STUDENT)
ROWS = [
    row
    for row in pages.ROWS
    if row.method == "GET" and not row.name.startswith("feed") and not row.name.endswith("-file")
]


@dataclass
class Service:
    """The application as one person's browser reaches it, what that complained of, and whom else it asked."""

    client: Client
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)
    policies: set[str | None] = field(default_factory=set)

    def open(self, page: Page) -> None:
        page.on("console", self._said)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.route("**/*", self._answer)

    def _said(self, message: object) -> None:
        if getattr(message, "type", "") in {"error", "warning"}:
            self.complaints.append(str(message))

    def _answer(self, route: Route) -> None:
        asked = urlsplit(route.request.url)
        if f"{asked.scheme}://{asked.netloc}" != HOME:
            self.strangers.append(route.request.url)
            route.abort()
        elif asked.path.startswith(settings.STATIC_URL):
            route.fulfill(path=finders.find(asked.path.removeprefix(settings.STATIC_URL)))
        else:
            self._answer_page(route, f"{asked.path}?{asked.query}")

    def _answer_page(self, route: Route, address: str) -> None:
        answer = self.client.get(address, follow=True, headers={"host": "localhost"})
        content = b"".join(answer) if answer.streaming else answer.content
        self.policies.add(answer.headers.get(HEADER))
        route.fulfill(status=answer.status_code, headers=dict(answer.headers), body=content)


@pytest.fixture
def cast(town: Town) -> Iterator[Cast]:
    with time_machine.travel(MONDAY_NINE, tick=False):
        yield Cast(town=town)


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_a_page_is_well_made_wide_and_on_a_phone_by_day_and_by_night(
    chromium: Browser, cast: Cast, row: Row
) -> None:
    person = next(cast.tries[role, row.at] for role in MAY_MOST if row.allows(role, here=True))
    address = _address(cast, person, row)
    service = Service(Client())
    if ANYBODY not in row.by:
        service.client.force_login(person)

    assert _looked_at(chromium, service, address) == (200, [])
    assert (service.complaints, service.strangers, service.policies) == ([], [], {POLICY})


def test_so_is_the_page_of_what_is_nowhere(chromium: Browser) -> None:
    service = Service(Client())

    assert _looked_at(chromium, service, "/nothing-here") == (404, [])
    assert (service.strangers, service.policies) == ([], {POLICY})


def _looked_at(chromium: Browser, service: Service, address: str) -> tuple[int, list[str]]:
    """The status of a page, and what is wrong with it with all of it opened."""
    with chromium.new_context(locale="en-GB") as context, context.new_page() as page:
        service.open(page)
        answer = page.goto(HOME + address)
        assert answer is not None
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        faults = [fault for how in itertools.product(WIDTHS, SCHEMES) for fault in _faults(page, *how)]
        return answer.status, faults


def _address(cast: Cast, person: Person, row: Row) -> str:
    """What must be there is made before."""
    row.before(cast, person)
    query = urlencode(row.query(cast, person), doseq=True)
    path = reverse(row.name, kwargs=row.made(cast, person))
    return f"{path}?{query}" if query else path


def _faults(page: Page, width: int, scheme: Literal["light", "dark"]) -> Iterator[str]:
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    found = Axe().run(page, options=RULES)
    if found.violations_count:
        yield f"{width} px, {scheme}: {found.generate_report()}"
    if (wide := page.evaluate("document.documentElement.scrollWidth")) > width:
        yield f"{width} px: {wide} px wide"


def test_the_description_of_the_api_opens_under_the_same_policy(chromium: Browser, cast: Cast) -> None:
    service = Service(Client())
    service.client.force_login(cast.seated)

    with chromium.new_context(locale="en-GB") as context, context.new_page() as page:
        service.open(page)
        page.goto(f"{HOME}/api/docs/")
        page.get_by_role("heading", name="Lehrbook").wait_for()

    # The library behind it lays a few styles into the page, and does without them.
    complaints = [said for said in service.complaints if not said.startswith("Applying inline style")]
    assert (complaints, service.strangers, service.policies) == ([], [], {POLICY})
