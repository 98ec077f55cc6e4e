"""A kiln job on paper: six loads and forty pieces on few pages, upright, each load in one piece."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
import time_machine
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from scheduling.models import KilnAnswer, KilnJob
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked
from studios.models import Equipment
from tests.scenarios.browser.test_pages import sign_in
from tests.services.kiln_work import a_job, answered, load_at, planned, second_kiln, with_shelves
from tests.worlds import Town, local

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# No load is higher than a page, or it would be torn apart all the same.
WHOLE = (
    "loads => loads.every(one => getComputedStyle(one).breakInside === 'avoid' && one.offsetHeight < 1000)"
)


@pytest.fixture
def fair(town: Town) -> Iterator[KilnAnswer]:
    """Forty dishes on six nights in two kilns; in every other load they stand on two shelves."""
    with time_machine.travel(local(0, 9)):
        kilns = [with_shelves(town), second_kiln(town)]
        sizes = [SizeAsked(count=40, length_mm=150, width_mm=150)]
        yield _answered(a_job(town, title="Fair", sizes=sizes), kilns)


def _answered(job: KilnJob, kilns: list[Equipment]) -> KilnAnswer:
    loads, first = [], 0
    for night, count in enumerate((4, 8, 4, 8, 8, 8)):
        pieces = range(first, first + count)
        at = local(1 + 2 * (night // 2), 18)
        loads.append(load_at(job, kilns[night % 2], at, pieces=pieces))
        first += count
    return answered(job, planned(*loads))


@pytest.fixture
def page(chromium: Browser, live_server: LiveServer, town: Town, fair: KilnAnswer) -> Iterator[Page]:
    """Somebody who books kilns has signed in."""
    with chromium.new_context() as context:
        page = context.new_page()
        sign_in(page, live_server, town.instructor)
        yield page


def printed(page: Page) -> bytes:
    return page.pdf(prefer_css_page_size=True)


def pages_of(paper: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", paper))


def test_an_answer_of_six_loads_is_printed_on_five_pages_at_most(
    page: Page, live_server: LiveServer, fair: KilnAnswer
) -> None:
    page.goto(f"{live_server.url}/kiln-answers/{fair.uid}")
    assert page.locator(".load").count() == 6

    paper = printed(page)

    assert 1 < pages_of(paper) <= 5
    box = re.search(rb"/MediaBox\s*\[0 0 (\d+)[\d.]* (\d+)", paper)
    assert box is not None
    assert int(box[1]) < int(box[2])


def test_no_load_is_torn_apart_and_no_control_is_printed(
    page: Page, live_server: LiveServer, fair: KilnAnswer
) -> None:
    page.goto(f"{live_server.url}/kiln-answers/{fair.uid}")
    page.emulate_media(media="print")

    assert page.locator("button:visible, input:visible, summary:visible, .way-back:visible").count() == 0
    assert page.locator(".roster-details tbody tr:visible").count() == 40
    assert page.locator(".load").evaluate_all(WHOLE)


def test_the_lists_of_a_load_and_all_labels_take_a_page_each(
    page: Page, live_server: LiveServer, town: Town, fair: KilnAnswer
) -> None:
    job = book(actor=town.instructor, answer=fair)
    firing = job.loads.order_by("pk")[1].firing

    for address in (
        f"firings/{firing.uid}/loading-list",
        f"firings/{firing.uid}/unloading-list",
        f"kiln-jobs/{job.uid}/labels",
    ):
        page.goto(f"{live_server.url}/{address}")

        assert pages_of(printed(page)) == 1, address
