"""A real Chromium for tests marked `browser`: `page` is a fresh profile, 1280 pixels wide."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests import servers

# No sandbox because CI runs as root; the rest keeps Chromium from calling anybody.
QUIET = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-dev-shm-usage"
)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser process for the run."""
    # Playwright keeps an event loop in this thread, and Django would refuse to query beside it.
    with pytest.MonkeyPatch.context() as environment, sync_playwright() as playwright:
        environment.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        browser = playwright.chromium.launch(executable_path=servers.chromium_path(), args=QUIET.split())
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A page without cookies; use `page.set_viewport_size` for a phone."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900}, locale="en-GB")
    yield context.new_page()
    context.close()


@pytest.fixture
def plain(chromium: Browser) -> Iterator[Page]:
    """A browser with JavaScript switched off."""
    context = chromium.new_context(java_script_enabled=False)
    yield context.new_page()
    context.close()
