"""One week from the command line."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from studios.models import Term
from tests.faces.feeds.conftest import EVENING, Night
from tests.faces.feeds.readers import READERS


def export(*args: str) -> str:
    out = io.StringIO(newline="")
    call_command("export_week", *args, stdout=out)
    return out.getvalue()


def test_the_week_goes_into_a_file(night: Night, tmp_path: Path) -> None:
    file = tmp_path / "week.ics"

    said = export("--person", "VERA@example.test", "--week", "2027-W10", "--output", str(file))

    assert said == f"3 events of 2027-W10 in {file}\n"
    seen = [reader(file.read_bytes()) for reader in READERS]
    assert seen[0] == seen[1] == seen[2]
    assert [each.title for each in seen[0]] == ["Evening blowing", "Anneal: Annealer 1", "Unload Annealer 1"]


def test_without_a_file_the_week_is_written_to_the_screen(night: Night) -> None:
    shown = export("--person", "juni@example.test", "--week", "2027-W10")
    assert shown.endswith("END:VCALENDAR\r\n")
    assert [each.title for each in READERS[0](shown.encode())] == [
        "Evening blowing, seat 1",
        "Pieces ready to collect",
    ]


@pytest.mark.parametrize(
    ("person", "week", "told"),
    [
        ("nobody@example.test", "2027-W10", "Nobody has the address nobody@example.test."),
        ("vera@example.test", "2027-10", "2027-10 is no ISO week; write 2027-W10."),
        ("vera@example.test", "2027-W53", "There is no week 53 in 2027; write 2027-W10."),
        ("vera@example.test", "9999-W52", "The book goes from 2000 to 2200; choose a week in it."),
        ("vera@example.test", "0000-W01", "The book goes from 2000 to 2200; choose a week in it."),
    ],
)
def test_what_cannot_be_exported_is_said(night: Night, person: str, week: str, told: str) -> None:
    with pytest.raises(CommandError) as refused:
        export("--person", person, "--week", week)
    assert str(refused.value) == told


def test_a_month_and_a_term_go_into_a_file_too(night: Night, tmp_path: Path) -> None:
    file, day = tmp_path / "some.ics", EVENING.astimezone(night.studio.zone).date()
    Term.objects.create(studio=night.studio, name="Spring", first_day=day, last_day=day)
    where = ("--person", "vera@example.test", "--output", str(file))

    assert export(*where, "--month", "2027-03") == f"3 events of 2027-03 in {file}\n"
    assert export(*where, "--term", "quillback/Spring") == f"2 events of quillback/Spring in {file}\n"


@pytest.mark.parametrize(
    ("which", "told"),
    [
        (("--month", "2027-13"), "There is no month 13; write 2027-02."),
        (("--month", "March"), "March is no month; write 2027-03."),
        (
            ("--term", "quillback/Autumn"),
            "There is no term quillback/Autumn; write its studio and its name, as hot-shop/Spring.",
        ),
    ],
)
def test_a_month_or_term_that_is_none_is_said(night: Night, which: tuple[str, str], told: str) -> None:
    with pytest.raises(CommandError) as refused:
        export("--person", "vera@example.test", *which)
    assert str(refused.value) == told


def test_a_folder_that_is_not_there_is_said(night: Night, tmp_path: Path) -> None:
    file = tmp_path / "nowhere" / "week.ics"
    with pytest.raises(CommandError, match="cannot be written: No such file or directory"):
        export("--person", "vera@example.test", "--week", "2027-W10", "--output", str(file))
