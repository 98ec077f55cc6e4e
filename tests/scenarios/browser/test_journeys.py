"""The journeys of an instructor, a student and a technician, walked on the demo from end to end.

Each starts at its own hour of the demo's term, on a copy of it, at a server as a person would start it.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import icalendar
import pytest
from playwright.sync_api import Browser, Locator

from scheduling.project.policy import POLICY
from tests.scenarios.browser.served_demo import Demo, loaded, served
from tests.scenarios.browser.walking import WAYS, Walk

pytestmark = pytest.mark.browser
Begin = Callable[[str, dt.datetime], Walk]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    return loaded(tmp_path_factory.mktemp("demo"))


@pytest.fixture(params=WAYS, ids=str)
def begin(request: pytest.FixtureRequest, demo: Demo, chromium: Browser, tmp_path: Path) -> Iterator[Begin]:
    """Somebody opens a browser at a moment, in one of the ways, and signs in."""
    with ExitStack() as opened:

        def begun(key: str, at: dt.datetime) -> Walk:
            home = opened.enter_context(served(demo, tmp_path / "book", at))
            context = opened.enter_context(request.param.opened(chromium))
            walk = Walk.begun(context, request.param, home)
            walk.sign_in(key)
            return walk

        yield begun


def test_every_two_ways_of_looking_and_pressing_are_walked_together() -> None:
    choices: list[set[object]] = [{1280, 390}, {"light", "dark"}, {True, False}, {True, False}]
    walked = [(way.width, way.scheme, way.scripts, way.keyboard) for way in WAYS]

    for one, other in itertools.combinations(range(len(choices)), 2):
        together = {(way[one], way[other]) for way in walked}
        assert together == set(itertools.product(choices[one], choices[other]))


def test_the_policy_lets_nothing_run_that_stands_within_a_page() -> None:
    assert POLICY.startswith("default-src 'self';")
    assert "unsafe" not in POLICY


def test_an_instructor_leaves_with_a_class_that_works_and_a_feed(begin: Begin, demo: Demo) -> None:
    """An evening beginners' blowing class, six people, any night in the next three weeks, either studio."""
    at = begin("isaura", demo.moment(3, "monday", dt.time(10)))
    first, last = (demo.moment(week, day, dt.time(18)) for week, day in ((3, "tuesday"), (6, "monday")))

    at.follow("Book a class", then="Say what, where and when")
    at.choose("Course", "Beginners' blowing")
    at.press("Find starts", then=f"Beginners' blowing, {day_of(first)} to {day_of(last)}")
    best = best_of(at)
    at.press(best, then="Beginners' blowing is booked.")
    at.sees("6 of 6 free", "What it holds", "bench", "pipe warmer", "Finished pieces: to be collected from")
    at.follow("Calendars", then="A new link")
    feed = at.calendar("my phone")

    assert at.wrong == []
    assert best.removeprefix("Book ").split(" at ")[0] in beginnings(feed, "Beginners' blowing", demo)


def best_of(at: Walk) -> str:
    """What books the first of the starts; each says what it holds until when, and both studios have some."""
    offered = at.page.locator(".option")
    held = ["furnace", "glory hole from", "bench from", "pipe warmer from", "annealer from", "the door opens"]
    for start in offered.all():
        at.sees(*held, at=start)
    books = offered.get_by_role("button", name="Book ").all()
    names = [book.get_attribute("aria-label") or "" for book in books]
    assert {name.split(" at ")[1] for name in names} == {"Millrace Flame and Kiln", "Quillback Hot Shop"}
    return names[0]


def test_a_student_leaves_with_a_torch_a_seat_a_place_in_a_line_and_a_feed(begin: Begin, demo: Demo) -> None:
    """Imre has a free Sunday and a free Monday evening, and a paperweight that still cools."""
    at = begin("imre", demo.moment(4, "friday", dt.time(10)))
    sunday, monday = demo.moment(4, "sunday", dt.time(13)), demo.moment(5, "monday", dt.time(18, 30))

    at.sees("Pieces still in the kiln", "Paperweights", "to be collected at Quillback Hot Shop")
    at.follow("Look for a free torch", then="What feeds them in these hours")
    at.follow(day_of(sunday), then=f"Millrace Flame and Kiln, {hour_of(sunday)} to 15:00")
    at.press("Reserve torch 5", then="Torch 5 is kept for you until")
    at.press("Reserve it", then="Torch 5 is yours")
    at.follow("Soft-glass beads", then="Take a seat", within=free_seats(at))
    at.press("Reserve a seat", then="is kept for you until")
    at.press("Reserve it", then="in Soft-glass beads is yours")
    at.sees("pieces to be collected from")
    at.unfold("Full classes, each with a waiting line")
    at.follow("One to one at the bench", then="Join the waiting line")
    at.press("Join the waiting line", then="You are number 1 in the waiting line.")
    at.follow("My seats", then="you are number 1 in the line")
    at.follow("Have all of them in your calendar", then="A new link")
    feed = at.calendar("my phone")

    assert at.wrong == []
    assert hour_of(sunday) in beginnings(feed, "Torch 5", demo)
    assert hour_of(monday) in beginnings(feed, "Soft-glass beads", demo)


def free_seats(at: Walk) -> Locator:
    return at.page.get_by_role("region", name="Classes with a free seat")


def test_a_technician_sees_what_is_hot_does_the_round_and_finds_hours_for_work(
    begin: Begin, demo: Demo
) -> None:
    """On a Tuesday evening with classes at both studios, and a kiln to be filled beside one that fires."""
    at = begin("halvor", demo.moment(4, "tuesday", dt.time(18, 35)))

    at.follow("Round", then="Millrace Flame and Kiln, times by the clocks")
    at.sees("650 °C", "Fused tiles: full fuse, Wrenna Oduval", "holding until", at=hot(at, "Fibre kiln"))
    load_one_and_unload_another(at)
    at.follow("Round", then="Millrace Flame and Kiln, times by the clocks")
    at.follow("Quillback Hot Shop", then="Quillback Hot Shop, times by the clocks")
    at.sees("1150 °C", "working until", "may be touched", at=hot(at, "Small glory hole"))
    at.press("Done: Light Small glory hole", then="Ticked Tue")
    at.write("Temperature read now (°C)", "505")
    at.press("Record the temperature of Small annealer", then="last read")
    at.sees("505 °C", "cool enough to open", "unloaded from", at=hot(at, "Small annealer"))
    find_hours_for_a_repair(at)
    find_hours_for_a_charge(at)

    assert at.wrong == []


def hot(at: Walk, piece: str) -> Locator:
    """What the round says of one hot thing."""
    return at.page.locator(".hot", has=at.page.get_by_role("heading", name=piece))


def load_one_and_unload_another(at: Walk) -> None:
    at.press("Last piece in now: Load Small brick kiln", then="Recorded: Last piece in")
    at.follow("Unload onto shelves: Bead annealer", then="Say where the pieces of each load lie.")
    at.write("Soft-glass beads: ", "shelf 3")
    at.press("Unloaded now", then="shelf 3")


def find_hours_for_a_repair(at: Walk) -> None:
    at.unfold("Something needs a repair")
    at.follow("Big glory hole", then="Where a repair breaks nothing", within=at.page.locator(".repairs"))
    at.follow(" or later, up to ", then="Where a repair breaks nothing")
    at.write("Why", "a new burner")
    at.press("Take it out of use", then="It breaks nothing that is booked")


def find_hours_for_a_charge(at: Walk) -> None:
    at.follow("Week", then="Read the same as a table")
    sheet = at.page.get_by_role("region", name="Strips of Quillback Hot Shop")
    at.follow("Furnace", then="What is in its pot, and its charges", within=sheet)
    at.follow("What is in its pot, and its charges", then="the earliest that shortens nothing booked")
    at.press("Book the charge", then="is charged; its glass is ready by")


def beginnings(feed: list[icalendar.Event], title: str, demo: Demo) -> set[str]:
    """When the events begin that have these words in their title."""
    starts = [event.start for event in feed if title in str(event["SUMMARY"])]
    return {hour_of(start.astimezone(demo.zone)) for start in starts if isinstance(start, dt.datetime)}


def day_of(moment: dt.datetime) -> str:
    """A day as the pages write it."""
    return f"{moment:%a} {moment.day} {moment:%b}"


def hour_of(moment: dt.datetime) -> str:
    """A day and an hour as the pages write them."""
    return f"{day_of(moment)}, {moment:%H:%M}"
