"""The table of outside checks, and the page that shows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from scheduling.management.commands import outside_checks
from studios.outside import CHECKS, THEMES, Check

PAGE = Path(settings.BASE_DIR) / "docs" / "thermal-model.md"


def printed(*words: str) -> str:
    out = StringIO()
    call_command("outside_checks", *words, stdout=out)
    return out.getvalue()


def test_every_check_has_its_line() -> None:
    lines = printed().splitlines()

    assert len(lines) == 2 + len(THEMES) + len(CHECKS)
    assert {line.count(" | ") for line in lines if "**" not in line} == {4}
    (r1,) = (line for line in lines if line.endswith("(derived) |") and "ceilings off: R1" in line)
    assert "| 59.8 ± 0.05 °C/h | 59." in r1
    assert "Carslaw & Jaeger" in r1


def test_the_page_shows_what_the_command_prints() -> None:
    _, _, rest = PAGE.read_text(encoding="utf-8").partition(outside_checks.BEGINS)
    block, closed, cautions = rest.partition(outside_checks.ENDS)

    assert closed
    assert block.strip() == printed().strip(), "run manage.py outside_checks --write docs/thermal-model.md"
    assert "Local codes, the makers' instructions and licensed practice decide" in cautions


def test_writing_replaces_the_block_and_nothing_else(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(f"before\n{outside_checks.BEGINS}\nold\n{outside_checks.ENDS}\nafter\n", encoding="utf-8")

    assert printed("--write", str(page)) == f"The table stands in {page}.\n"

    written = page.read_text(encoding="utf-8")
    assert written == (
        f"before\n{outside_checks.BEGINS}\n{outside_checks.outside_table()}\n{outside_checks.ENDS}\nafter\n"
    )
    printed("--write", str(page))
    assert page.read_text(encoding="utf-8") == written


def test_a_page_without_the_markers_is_left_alone(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("nothing here", encoding="utf-8")

    with pytest.raises(CommandError, match="lacks the two markers"):
        printed("--write", str(page))

    assert page.read_text(encoding="utf-8") == "nothing here"


def test_a_page_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match=r"nowhere.md cannot be read and written: No such file"):
        printed("--write", str(tmp_path / "nowhere.md"))


def test_a_page_that_is_no_text_is_named(tmp_path: Path) -> None:
    page = tmp_path / "picture.md"
    page.write_bytes(b"\xff\xfe\x00")

    with pytest.raises(CommandError, match="is no page of text"):
        printed("--write", str(page))


def test_a_check_that_fails_is_shown_and_ends_the_command_with_an_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wrong = replace(CHECKS[0], what="the sky", computed=lambda: 12.5)
    themes: Mapping[str, tuple[Check, ...]] = {"Weather": (wrong,)}
    monkeypatch.setattr(outside_checks, "THEMES", themes)
    out = StringIO()

    with pytest.raises(CommandError, match=r"1 checks fail: the sky\."):
        call_command("outside_checks", stdout=out)

    assert "| 13 dPa·s | 12.5 dPa·s | -0.5 **fails** |" in out.getvalue()
