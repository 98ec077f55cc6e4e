"""Every command before the database is set up: one line that says what to run."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from scheduling.project.settings import BASE_DIR

COMMANDS = {
    "book_class": ("--course", "a", "--studio", "b", "--instructor", "c", "--at", "2027-03-09T18:00"),
    "find_starts": ("--course", "a", "--studio", "b", "--instructor", "c"),
    "reserve_torch": ("--person", "a", "--studio", "b", "--torch", "1", "--at", "2027-03-09T18:00"),
    "export_week": ("--person", "a", "--week", "2027-W10"),
    "fire_pieces": (
        *("--title", "a", "--owner", "b", "--studio", "c", "--glass", "d", "--thickness", "6"),
        *("--route", "fuse", "--size", "1x100x100", "--arrives", "2027-03-09T18:00"),
    ),
    "add_glasses": (),
    "backup": ("backup.zip",),
    "restore": ("backup.zip",),
    "calibrate": ("log.csv", "--studio", "b", "--equipment", "c"),
    "load_demo": (),
    "main_job": (),
    "demo_signins": (),
    "firing_program": ("--glass", "float", "--shape", "bead"),
}
WITHOUT_THE_BOOK = {"outside_checks", "flush"}  # what is not there is empty


def test_no_command_is_left_out() -> None:
    folder = BASE_DIR / "scheduling" / "management" / "commands"
    assert set(COMMANDS) | WITHOUT_THE_BOOK == {file.stem for file in folder.glob("*.py")} - {"__init__"}


def run(command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A command in a process of its own, which knows nothing of the database of the tests."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LEHRBOOK_")}
    words = [sys.executable, "manage.py", command, *COMMANDS[command]]
    return subprocess.run(
        words, cwd=BASE_DIR, env=kept | environment, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("command", list(COMMANDS))
def test_a_command_says_that_the_database_is_not_set_up(command: str, tmp_path: Path) -> None:
    ended = run(command, LEHRBOOK_DATA_DIR=str(tmp_path))

    assert ended.returncode == 1
    assert ended.stdout == ""
    assert ended.stderr == (
        "CommandError: The database is not set up: run manage.py migrate (make run does it).\n"
    )


def test_a_command_says_that_the_database_cannot_be_reached(tmp_path: Path) -> None:
    nobody_listens = "postgres://nobody@127.0.0.1:1/nothing"

    ended = run(
        "demo_signins",
        LEHRBOOK_DATA_DIR=str(tmp_path),
        LEHRBOOK_DATABASE_URL=nobody_listens,
        LEHRBOOK_SECRET_KEY="for this test only",
    )

    assert ended.returncode == 1
    assert ended.stderr.startswith("CommandError: The database cannot be reached: ")
    assert ended.stderr.count("\n") == 1
