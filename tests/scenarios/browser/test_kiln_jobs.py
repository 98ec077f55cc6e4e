"""Forty small dishes begun at a harvest fair, fused, then slumped: asked for, booked, loaded, handed back."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
import time_machine
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from scheduling.models import KilnAnswer, KilnJob, Piece, PieceState
from scheduling.services.pick_up import unload
from studios.models import Mould
from tests.scenarios.browser.test_pages import sign_in
from tests.scenarios.browser.test_round import WAYS, Hand, Hands, Way, hand
from tests.services.kiln_work import second_kiln, with_shelves
from tests.worlds import Town, local

__all__ = ["hand"]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def fair(town: Town) -> Iterator[time_machine.Traveller]:
    """Two kilns with shelves, moulds for squares and rounds, on Monday at nine."""
    with_shelves(town)
    second_kiln(town)
    facts = {"studio": town.flame, "holds": 1}
    Mould.objects.create(name="Shallow square", count=9, length_mm=150, width_mm=150, **facts)
    Mould.objects.create(name="Round dish", count=6, length_mm=130, width_mm=130, round=True, **facts)
    with time_machine.travel(local(0, 9)) as clock:
        yield clock


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_forty_dishes_from_the_fair_to_the_hands_of_their_makers(
    hand: Hands, live_server: LiveServer, town: Town, fair: time_machine.Traveller, way: Way
) -> None:
    at = hand(way)
    sign_in(at.page, live_server, town.instructor)

    _asks_for_forty_dishes(at)
    _reads_the_answer_and_books(at)
    job = KilnJob.objects.get()
    assert job.status == "booked"
    assert job.pieces.count() == 40

    _pieces_come(at)
    assert set(Piece.objects.values_list("state", "place")) == {(PieceState.HERE, "the long table")}

    _sees_the_lists(at, live_server, job)
    _all_is_fired(town, job, fair)
    _hands_them_over(at, live_server, job)
    assert set(Piece.objects.values_list("state", flat=True)) == {PieceState.HANDED_OVER}


def _asks_for_forty_dishes(at: Hand) -> None:
    """From anywhere: Kiln jobs, ask; two sizes, each into its mould."""
    page = at.page
    at.press(page.get_by_role("navigation", name="Pages").get_by_role("link", name="Kiln jobs"))
    page.get_by_role("heading", name="Kiln jobs", level=1).wait_for()
    at.look()
    at.press(page.get_by_role("link", name="Ask for pieces to be fired"))
    page.get_by_label("What it is called").fill("Harvest fair")
    _size(page, 1, count=28, long=110, mould="Shallow square, 150 × 150 mm, Flame")
    at.press(page.get_by_role("button", name="Another size"))
    _size(page, 2, count=12, long=100, mould="Round dish, Ø 130 mm, Flame")
    page.get_by_label("Glass", exact=True).select_option("fusing-90")
    page.get_by_label("Greatest thickness (mm)").fill("6")
    page.get_by_label("What is wanted").select_option("fuse-slump")
    page.get_by_label("At the studio from").fill("2031-03-04")
    page.get_by_label("Hot shop").uncheck()
    at.look()
    at.press(page.get_by_role("button", name="See when it can be fired"))


def _size(page: Page, number: int, *, count: int, long: int, mould: str) -> None:
    row = page.get_by_role("group", name=f"Size {number}")
    row.get_by_label("How many").fill(str(count))
    row.get_by_label("Length or diameter (mm)").fill(str(long))
    row.get_by_label("Sinks into").select_option(label=mould)
    if mould.startswith("Round"):
        row.get_by_label("Round", exact=True).check()


def _reads_the_answer_and_books(at: Hand) -> None:
    """The first day for hand-back, the nights, a picture of every shelf; then one press books it all."""
    page = at.page
    page.get_by_role("heading", name="First day for hand-back").wait_for()
    expect(page.locator(".ready-on")).to_contain_text("March 2031")
    answer = KilnAnswer.objects.get()
    assert answer.plan is not None
    expect(page.locator("article.load")).to_have_count(len(answer.plan["loads"]))
    expect(page.locator("svg.shelf").first).to_be_visible()
    at.look()
    at.press(page.get_by_role("button", name="Book these firings"))
    expect(page.get_by_role("status")).to_contain_text("its firings are booked")
    at.look()


def _pieces_come(at: Hand) -> None:
    """All of them are here, and lie on a table."""
    page = at.page
    page.get_by_label("Where they lie").fill("the long table")
    at.press(page.get_by_role("button", name="They are here"))
    expect(page.get_by_role("status")).to_contain_text("40 pieces are here.")


def _sees_the_lists(at: Hand, server: LiveServer, job: KilnJob) -> None:
    """For the technician: what goes in and where, what comes out; and the labels."""
    page = at.page
    at.press(page.get_by_role("link", name="Loading list").first)
    page.get_by_role("heading", name="Loading list").wait_for()
    expect(page.locator("svg.shelf").first).to_be_visible()
    at.look()
    page.goto(f"{server.url}/kiln-jobs/{job.uid}")
    at.press(page.get_by_role("link", name="Unloading list").first)
    page.get_by_role("heading", name="Unloading list").wait_for()
    at.look()
    page.goto(f"{server.url}/kiln-jobs/{job.uid}/labels")
    expect(page.locator("li.piece-label")).to_have_count(40)
    at.look()


def _all_is_fired(town: Town, job: KilnJob, clock: time_machine.Traveller) -> None:
    """Each firing in its turn is unloaded onto a shelf, when somebody may."""
    for load in job.loads.select_related("firing").order_by("firing__unload_at", "pk"):
        clock.move_to(load.firing.unload_at)
        unload(actor=town.technician, firing=load.firing, shelves={load: "shelf 4"})


def _hands_them_over(at: Hand, server: LiveServer, job: KilnJob) -> None:
    """On the pick-up page, with who took them."""
    page = at.page
    page.goto(f"{server.url}/pick-up")
    at.look()
    for _ in range(job.loads.filter(job_step=2).count()):
        at.press(page.get_by_role("button", name=re.compile("^Collected")).first)
        expect(page.get_by_role("status")).to_contain_text("are collected")
    page.goto(f"{server.url}/kiln-jobs")
    expect(page.locator("details.over")).to_contain_text("Done and called off")
