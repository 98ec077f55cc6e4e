"""Save every page as a picture, 1280 and 390 pixels wide, by day and by night, from a server with the demo.

    python -m tests.scenarios.browser.pictures http://127.0.0.1:8000 var/pictures 2027-W05 [isaura]

The server has the demo loaded; the week is the one in which its main job is done. Exit code 1 when a page
scrolls sideways.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Literal
from urllib.parse import urlsplit

from playwright.sync_api import Browser, Page, sync_playwright

from tests import servers
from tests.plugins.browser import QUIET

WIDTHS = {"wide": (1280, 900), "phone": (390, 844)}
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
WISH = "course=beginners-blowing&studios=quillback&studios=millrace"
WEEKLY = "course=beginners-blowing&studio=quillback"
PASSWORD = "gather-blow-anneal"  # printed by the demo itself


def sign_in(page: Page, base: str, key: str) -> None:
    """Through the page, as a person does."""
    page.goto(f"{base}/sign-in")
    page.get_by_label("E-mail").fill(f"{key}@tarnhollow.example")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: "/sign-in" not in address)


def addresses(page: Page, base: str, week: str) -> dict[str, str]:
    """Every page by a name for its picture; a session and some firings are found on the sheet."""
    year, week_number = week.split("-W")
    monday = dt.date.fromisocalendar(int(year), int(week_number), 1)
    tuesday, wednesday, sunday = (monday + dt.timedelta(days=days) for days in (1, 2, 6))
    page.goto(f"{base}/?week={week}&as=table")
    links = page.eval_on_selector_all("td a", "all => all.map(one => one.getAttribute('href'))")
    found = {
        "week": f"/?week={week}",
        "week-table": f"/?week={week}&as=table",
        "week-annealers": f"/?week={week}&kind=annealer",
        "day": f"/?day={tuesday}",
        "empty": f"/?day={monday - dt.timedelta(weeks=52)}",
        "week-clocks": f"/?day={monday + dt.timedelta(weeks=5)}",
    }
    for kind in ("sessions", "firings"):
        for number, href in enumerate(dict.fromkeys(href for href in links if f"/{kind}/" in href)):
            if number < 3:
                found[f"{kind}-{number + 1}"] = href
    return found | {
        "book": "/book",
        "book-found": f"/book?{WISH}&first_day={monday}&last_day={sunday}&time=18%3A00",
        "book-best": f"/book?{WISH}&first_day={monday}&last_day={sunday}&time=18%3A00&order=attended",
        "weekly": f"/book/weekly?{WEEKLY}&first_day={wednesday}&weeks=6&time=16%3A00",
        "weekly-spoilt": f"/book/weekly?{WEEKLY}&first_day={wednesday}&weeks=6&time=14%3A30",
        "torches": f"/torches?studio=millrace&day={wednesday}&starts=13%3A00&ends=15%3A00",
        "torches-class": f"/torches?studio=millrace&day={tuesday}&starts=18%3A00&ends=20%3A00",
        "my-seats": "/my-seats",
        "calendars": "/calendars",
        "other-calendars": "/other-calendars",
        "cautions": "/cautions",
        "not-found": "/nothing-here",
    }


def pictures(browser: Browser, base: str, folder: Path, week: str, key: str) -> Iterator[str]:
    """Take them all; yields a line for each page that scrolls sideways."""
    for scheme in SCHEMES:
        for name, (width, height) in WIDTHS.items():
            context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
            page = context.new_page()
            page.goto(f"{base}/sign-in")
            page.screenshot(path=folder / f"sign-in-{name}-{scheme}.png", full_page=True)
            sign_in(page, base, key)
            for title, address in addresses(page, base, week).items():
                page.goto(base + address)
                page.screenshot(path=folder / f"{title}-{name}-{scheme}.png", full_page=True)
                if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                    yield f"{title} scrolls sideways at {width} px"
            context.close()


def main(base: str, folder: str, week: str, key: str = "isaura") -> int:
    """Take the pictures and say what scrolls."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=servers.chromium_path(), args=QUIET.split())
        wrong = list(pictures(browser, base.rstrip("/"), Path(folder), week, key))
        browser.close()
    sys.stdout.write(
        "".join(f"{line}\n" for line in wrong) or f"All pages of {urlsplit(base).netloc} saved.\n"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
