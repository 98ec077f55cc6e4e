"""Whoever looks over a walker's shoulder misses nothing, and keys reach what a pointer does."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, Route

from tests.scenarios.browser.hands import Keyboard, Pointer
from tests.scenarios.browser.walking import WAYS, Walk

pytestmark = pytest.mark.browser
HOME = "http://home.example"
ELSEWHERE = "http://elsewhere.example/one.png"
FAULTY = f"""
<!doctype html><html lang="en"><title>Faulty</title>
<main><h1>Faulty</h1><div style="width: 2000px">wide</div><img src="{ELSEWHERE}" alt="">
<details><summary>folded</summary><input></details></main>
<script>console.error("bent"); throw new Error("broken")</script>
"""
FORM = """
<!doctype html><html lang="en"><title>Form</title>
<details><summary>More</summary><p>Unfolded.</p></details>
<label>Name <input value="old"></label>
<label>Course <select><option>Beads</option><option>Blowing</option><option>Tiles</option></select></label>
"""


def answer(page: Page, content: str) -> None:
    """Every address answers with this, and nobody's policy."""

    def fulfil(route: Route) -> None:
        route.fulfill(content_type="text/html", body=content)

    page.route("**/*", fulfil)
    page.goto(HOME)


def test_whatever_is_wrong_on_a_page_is_written_down(chromium: Browser) -> None:
    way = WAYS[1]
    with way.opened(chromium) as context:
        walk = Walk.begun(context, way, HOME)

        answer(walk.page, FAULTY)
        walk.look()

        assert walk.page.get_by_role("textbox").count() == 0
    told = "\n".join(walk.wrong)
    for fault in ("bent", "broken", f"asks for {ELSEWHERE}", "under the policy None", "px wide", "label - "):
        assert fault in told


@pytest.mark.parametrize("by_keyboard", [True, False])
def test_a_form_is_filled_by_keyboard_alone_as_by_a_pointer(page: Page, by_keyboard: bool) -> None:
    hands = Keyboard(page) if by_keyboard else Pointer()
    answer(page, FORM)

    hands.press(page.locator("summary"))
    hands.write(page.get_by_label("Name"), "new")
    hands.choose(page.get_by_label("Course"), "Blowing")

    assert page.get_by_text("Unfolded.").is_visible()
    assert page.get_by_label("Name").input_value() == "new"
    assert page.get_by_label("Course").input_value() == "Blowing"


def test_what_the_keyboard_does_not_reach_is_an_error(page: Page) -> None:
    answer(
        page, "<!doctype html><html lang='en'><title>Bar</title><a href='#' tabindex='-1'>out of reach</a>"
    )

    with pytest.raises(AssertionError, match="does not reach"):
        Keyboard(page).press(page.get_by_role("link", name="out of reach"))
