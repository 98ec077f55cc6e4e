"""With Redis and PostgreSQL, a worker of its own delivers what another process has to tell."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from scheduling.models import Message
from studios.models import Person

pytestmark = [pytest.mark.redis, pytest.mark.postgres_only, pytest.mark.django_db(transaction=True)]
PATIENCE_S = 60
NOBODY_LISTENS = "redis://127.0.0.1:1/0"
TELLING = """
from scheduling.services.messages import tell
from studios.models import Person
tell(person=Person.objects.get(), subject="Your seat", body="Torch 3.")
"""


def environment(redis_url: str) -> dict[str, str]:
    """The environment of a process beside this one, on the same test database."""
    address = "postgresql://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**connection.settings_dict)
    return {
        **os.environ,
        "LEHRBOOK_DATABASE_URL": address,
        "LEHRBOOK_REDIS_URL": redis_url,
        "LEHRBOOK_SECRET_KEY": settings.SECRET_KEY,
    }


@pytest.fixture
def student(transactional_db: None) -> Person:
    """Somebody to tell something to."""
    return Person.objects.create_user("student@town.example", "glass", name="Student")


@pytest.fixture
def worker(redis_url: str, student: Person, tmp_path: Path) -> Iterator[Path]:
    """A Celery worker as the compose file starts it; yields the file in which it prints its mail."""
    printed = tmp_path / "worker.txt"
    with printed.open("w") as output:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "scheduling.project.celery", "worker", "--pool", "solo"],
            env=environment(redis_url),
            stdout=output,
            stderr=subprocess.STDOUT,
        )
        yield printed
        process.terminate()
        process.wait(timeout=PATIENCE_S)


def tell_from_another_process(variables: Mapping[str, str]) -> Message:
    """Let a process of its own tell the student something, as a web process would."""
    subprocess.run(
        [sys.executable, "manage.py", "shell", "-c", TELLING], env=variables, check=True, timeout=PATIENCE_S
    )
    return Message.objects.get()


def test_a_worker_delivers_what_a_web_process_was_to_tell(worker: Path, redis_url: str) -> None:
    message = tell_from_another_process(environment(redis_url))

    deadline = time.monotonic() + PATIENCE_S
    while message.sent_at is None and time.monotonic() < deadline:
        time.sleep(0.2)
        message.refresh_from_db()

    assert message.sent_at is not None, worker.read_text()
    assert "Subject: Your seat" in worker.read_text()


def test_a_broker_that_is_away_blocks_nothing_and_loses_nothing(student: Person) -> None:
    message = tell_from_another_process(environment(NOBODY_LISTENS))

    assert message.sent_at is None
