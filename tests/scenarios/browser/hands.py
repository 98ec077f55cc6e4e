"""How somebody presses, writes and chooses on a page: with a mouse or a finger, or by keyboard alone."""

from __future__ import annotations

from typing import Protocol

from playwright.sync_api import Locator, Page

MOST_TABS = 400
MOST_OPTIONS = 100
HAS_FOCUS = "one => one === document.activeElement"
CHOSEN = "one => one.selectedOptions[0].label"


class Hands(Protocol):
    """What both ways can do."""

    def press(self, what: Locator) -> None: ...
    def write(self, field: Locator, text: str) -> None: ...
    def choose(self, field: Locator, option: str) -> None: ...


class Pointer:
    """A mouse, or a finger."""

    def press(self, what: Locator) -> None:
        what.click()

    def write(self, field: Locator, text: str) -> None:
        field.fill(text)

    def choose(self, field: Locator, option: str) -> None:
        field.select_option(label=option)


class Keyboard:
    """Tab as far as it takes, then a key; nothing is clicked, and nothing is given the focus."""

    def __init__(self, page: Page) -> None:
        self._page = page

    def press(self, what: Locator) -> None:
        self._go_to(what)
        self._page.keyboard.press("Enter")

    def write(self, field: Locator, text: str) -> None:
        self._go_to(field)
        self._page.keyboard.type(text)

    def choose(self, field: Locator, option: str) -> None:
        self._go_to(field)
        self._page.keyboard.press("Home")
        for _ in range(MOST_OPTIONS):
            if field.evaluate(CHOSEN) == option:
                return
            self._page.keyboard.press("ArrowDown")
        raise AssertionError(f"The keyboard does not choose {option}.")

    def _go_to(self, what: Locator) -> None:
        what.wait_for()
        for _ in range(MOST_TABS):
            if what.evaluate(HAS_FOCUS):
                return
            self._page.keyboard.press("Tab")
        raise AssertionError(f"The keyboard does not reach {what}.")


def press_access_key(page: Page, letter: str) -> None:
    """Alt and a letter, as a keyboard sends it: Chromium heeds the character, not the key."""
    keyboard = page.context.new_cdp_session(page)
    code = {"key": letter, "code": f"Key{letter.upper()}", "windowsVirtualKeyCode": ord(letter.upper())}
    with_alt = {"modifiers": 1, "text": letter, "unmodifiedText": letter}
    for kind in ("rawKeyDown", "char", "keyUp"):
        keyboard.send("Input.dispatchKeyEvent", {"type": kind, **code, **with_alt})
    keyboard.detach()
