"""However many processes look for periodic work, one does it; who is killed over it is succeeded in time."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from scheduling.models import Message
from studios.models import Person
from tests.other_process import environment

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE_S = 120
LASTS_S, STEP_S, STEPS = 3.0, 0.1, 12
WORKING = f"""
import datetime as dt, os, sys, time
from scheduling.services.rounds import Round, make_rounds

def say(word):
    with open(sys.argv[-1], "a") as file:
        file.write(f"{{time.time()}} {{os.getpid()}} {{word}}\\n")

def sweep(turn):
    say("begins")
    for _ in range({STEPS}):
        time.sleep({STEP_S})
        turn.keep()
        say("works")
    say("ends")
    return 1

table = (Round(name="sweeping", does=sweep, every=dt.timedelta(seconds=0.5)),)
while True:
    make_rounds(table, lasts=dt.timedelta(seconds={LASTS_S}))
    time.sleep(0.05)
"""
DELIVERING = """
import sys
from django.conf import settings
from scheduling.services.messages import deliver_messages
settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
settings.EMAIL_FILE_PATH = sys.argv[-1]
print("ready", flush=True)
sys.stdin.readline()
print(deliver_messages(), flush=True)
"""

Start = Callable[[str, Path], "subprocess.Popen[str]"]


@pytest.fixture
def start(transactional_db: None, tmp_path: Path) -> Iterator[Start]:
    """Start processes on the test database; what still runs at the end is killed."""
    running = []
    variables = environment(tmp_path)

    def started(script: str, argument: Path) -> subprocess.Popen[str]:
        program = f"import sys; sys.argv.append({str(argument)!r})\n{script}"
        process = subprocess.Popen(
            [sys.executable, "manage.py", "shell", "-v", "0", "-c", program],
            env=variables,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        running.append(process)
        return process

    yield started
    for process in running:
        process.kill()
        process.communicate(timeout=PATIENCE_S)


def said(diary: Path) -> list[tuple[float, int, str]]:
    """Who did what when, in the order of time."""
    lines = diary.read_text().splitlines() if diary.exists() else []
    words = (line.split() for line in lines)
    return [(float(at), int(who), what) for at, who, what in words]


def wait_for(diary: Path, what: Callable[[list[tuple[float, int, str]]], bool]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not what(said(diary)):
        assert time.monotonic() < deadline, said(diary)
        time.sleep(0.05)


def test_one_works_at_a_time_and_the_other_takes_over_from_a_killed_one(start: Start, tmp_path: Path) -> None:
    diary = tmp_path / "diary.txt"
    processes = {process.pid: process for process in (start(WORKING, diary), start(WORKING, diary))}
    wait_for(diary, lambda lines: sum(what == "ends" for _, _, what in lines) >= 3)

    begun = len(said(diary))
    wait_for(diary, lambda lines: any(what == "begins" for _, _, what in lines[begun:]))
    _, worker, _ = next(line for line in said(diary)[begun:] if line[2] == "begins")
    processes[worker].send_signal(signal.SIGKILL)
    processes[worker].wait(PATIENCE_S)
    wait_for(diary, lambda lines: lines[-1][1] != worker and lines[-1][2] == "ends")

    lines = said(diary)
    current = None
    for at, who, what in lines:
        if what == "begins":
            # Two never work at once: the one before has ended, or was killed and its lease has run out.
            assert current is None or (current[1] == worker and at - current[0] >= LASTS_S - STEP_S), lines
        else:
            assert current is not None
            assert current[1] == who, lines
        current = None if what == "ends" else (at, who)
    last_sign = max(at for at, who, _ in lines if who == worker)
    taken_over = min(at for at, who, what in lines if who != worker and at > last_sign and what == "begins")
    assert LASTS_S - STEP_S <= taken_over - last_sign < LASTS_S + 5


def test_several_that_deliver_at_once_mail_every_message_once(start: Start, tmp_path: Path) -> None:
    student = Person.objects.create_user("student@town.example", "glass", name="Student")
    letters = tmp_path / "letters"
    Message.objects.bulk_create(
        Message(person=student, subject=f"Seat {number}", body="Yours.") for number in range(60)
    )
    processes = [start(DELIVERING, letters) for _ in range(3)]
    for process in processes:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"

    counts = [int(process.communicate("\n", timeout=PATIENCE_S)[0]) for process in processes]

    mailed = [
        line
        for file in letters.iterdir()
        for line in file.read_text().splitlines()
        if line.startswith("Subject: ")
    ]
    assert sorted(mailed) == sorted(f"Subject: Seat {number}" for number in range(60))
    assert sum(counts) == 60
    assert not Message.objects.filter(sent_at__isnull=True).exists()
