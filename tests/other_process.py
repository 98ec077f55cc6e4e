"""A process beside the tests, on the same test database, that does what it is told line by line."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection

LISTENING = """
import datetime as dt
import sys
from scheduling.models import Course, Session
from scheduling.services.booking import book_session
from scheduling.services.cancelling import cancel_session
from studios.errors import LehrbookError
from studios.models import Person

for line in sys.stdin:
    words = line.split()
    try:
        if words[0] == "book":
            course, teacher = Course.objects.get(pk=words[1]), Person.objects.get(pk=words[2])
            session = book_session(actor=teacher, course=course, studio=course.studios.get(),
                instructor=teacher, starts_at=dt.datetime.fromisoformat(words[3]))
        else:
            session = Session.objects.get(pk=words[1])
            cancel_session(actor=session.instructor, session=session)
        print("answer", session.pk, flush=True)
    except LehrbookError as error:
        print("answer", error.code, flush=True)
"""


class Other:
    """Somebody at another process of the same service."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def told(self, *words: object) -> str:
        """What comes of a line: the session's key, or the code of a refusal."""
        if self._process.stdin is None or self._process.stdout is None:
            raise RuntimeError("the other process has no pipes")
        self._process.stdin.write(" ".join(map(str, words)) + "\n")
        self._process.stdin.flush()
        # What it prints besides is mail.
        answers = (line for line in self._process.stdout if line.startswith("answer "))
        return next(answers).removeprefix("answer ").strip()


@contextmanager
def other_process(folder: Path) -> Iterator[Other]:
    """Start it, and end it."""
    process = subprocess.Popen(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", LISTENING],
        env=environment(folder),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield Other(process)
    finally:
        process.communicate(timeout=60)


def environment(folder: Path) -> dict[str, str]:
    """The environment of a process on the test database; on SQLite with `folder` as its data folder."""
    secret = {"LEHRBOOK_SECRET_KEY": str(settings.SECRET_KEY)}
    if connection.vendor == "sqlite":
        (folder / "lehrbook.sqlite3").symlink_to(connection.settings_dict["NAME"])
        return {**os.environ, **secret, "LEHRBOOK_DATA_DIR": str(folder)}
    address = "postgresql://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**connection.settings_dict)
    return {**os.environ, **secret, "LEHRBOOK_DATABASE_URL": address}
