"""Print every value that the thermal model is held against, published and computed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studios.outside import THEMES, Between, Check
from studios.outside.check import LAST_BITS, spaced

BEGINS = "<!-- outside checks: written by manage.py outside_checks -->"
ENDS = "<!-- end of outside checks -->"
HEAD = "| what | published | computed | difference | source |\n| --- | --- | --- | --- | --- |"


class Command(BaseCommand):
    help = "Print a table of outside checks: the value published, the value computed, the difference."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--write", type=Path, metavar="PAGE", help="put the table between the two markers of a page"
        )

    def handle(self, *, write: Path | None, **_options: Any) -> None:
        """Without a page the table goes to the screen. A row that fails is an error once it is written."""
        if write is None:
            self.stdout.write(outside_table())
        else:
            _put_into(write)
            self.stdout.write(f"The table stands in {write}.")
        failed = [
            check.what for rows in THEMES.values() for check in rows if not check.holds(check.computed())
        ]
        if failed:
            raise CommandError(f"{len(failed)} checks fail: {'; '.join(failed)}.")


def outside_table() -> str:
    """One table in Markdown, a line for each theme and each check."""
    return "\n".join((HEAD, *_lines()))


def _lines() -> Iterator[str]:
    for theme, rows in THEMES.items():
        yield f"| **{theme}** | | | | |"
        yield from (_line(check) for check in rows)


def _line(check: Check) -> str:
    computed = check.computed()
    cells = (
        check.what,
        check.published.said(check.unit),
        f"{computed:.5g}{spaced(check.unit)}",
        _difference(check, computed),
        f"{check.source} ({check.seen.value})",
    )
    return f"| {' | '.join(cells)} |"


def _difference(check: Check, computed: float) -> str:
    """To two figures; what only the last bits of a float make is nothing."""
    verdict = "" if check.holds(computed) else " **fails**"
    difference = check.difference(computed)
    if abs(difference) > LAST_BITS:
        return f"{difference:+.2g}{verdict}"
    return f"{'inside' if isinstance(check.published, Between) else '0'}{verdict}"


def _put_into(page: Path) -> None:
    try:
        text = page.read_text(encoding="utf-8")
        before, found, rest = text.partition(BEGINS)
        _, closed, after = rest.partition(ENDS)
        if not (found and closed):
            raise CommandError(f"{page} lacks the two markers {BEGINS} and {ENDS}.")
        page.write_text(f"{before}{BEGINS}\n{outside_table()}\n{ENDS}{after}", encoding="utf-8")
    except UnicodeDecodeError as error:
        raise CommandError(f"{page} is no page of text.") from error
    except OSError as error:
        raise CommandError(f"{page} cannot be read and written: {error.strerror}.") from error
