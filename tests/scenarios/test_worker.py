"""With Redis and PostgreSQL, a worker of its own delivers what another process has to tell."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from scheduling.models import Lease, Message
from scheduling.models.leases import LONG_AGO
from studios.models import Person
from tests import own_servers

pytestmark = [pytest.mark.redis, pytest.mark.postgres_only, pytest.mark.django_db(transaction=True)]
PATIENCE_S = 120
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


@contextmanager
def celery(redis_url: str, printed: Path, *words: str) -> Iterator[None]:
    """A process of Celery as the compose file starts it; it prints into a file."""
    with printed.open("w") as output:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "scheduling.project.celery", *words],
            env=environment(redis_url),
            stdout=output,
            stderr=subprocess.STDOUT,
        )
        try:
            yield
        finally:
            process.terminate()
            process.wait(timeout=PATIENCE_S)


@pytest.fixture
def worker(redis_url: str, student: Person, tmp_path: Path) -> Iterator[Path]:
    """A worker; yields the file in which it prints its mail."""
    with celery(redis_url, tmp_path / "worker.txt", "worker", "--pool", "solo"):
        yield tmp_path / "worker.txt"


@pytest.fixture
def beat(redis_url: str, student: Person, tmp_path: Path) -> Iterator[Path]:
    """Beat, which asks for the rounds."""
    schedule = ["--schedule", str(tmp_path / "beat-schedule"), "--pidfile="]
    with celery(redis_url, tmp_path / "beat.txt", "beat", *schedule):
        yield tmp_path / "beat.txt"


def wait_until_sent(message: Message, worker: Path) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while message.sent_at is None and time.monotonic() < deadline:
        time.sleep(0.2)
        message.refresh_from_db()
    assert message.sent_at is not None, worker.read_text()


def tell_from_another_process(variables: Mapping[str, str]) -> Message:
    """Let a process of its own tell the student something, as a web process would."""
    subprocess.run(
        [sys.executable, "manage.py", "shell", "-c", TELLING], env=variables, check=True, timeout=PATIENCE_S
    )
    return Message.objects.get()


def test_a_worker_delivers_what_a_web_process_was_to_tell(worker: Path, redis_url: str) -> None:
    message = tell_from_another_process(environment(redis_url))

    wait_until_sent(message, worker)
    assert "Subject: Your seat" in worker.read_text()


def test_a_broker_that_is_away_blocks_nothing_and_loses_nothing(student: Person) -> None:
    message = tell_from_another_process(environment(NOBODY_LISTENS))

    assert message.sent_at is None


def test_beat_has_delivered_what_nobody_rang_for(worker: Path, beat: Path, student: Person) -> None:
    message = Message.objects.create(person=student, subject="Your seat", body="Torch 3.")

    wait_until_sent(message, worker)

    assert worker.read_text().count("Subject: Your seat") == 1
    assert Lease.objects.get(name="outbox").last_error == ""


def test_a_worker_outlives_its_broker(student: Person, tmp_path: Path) -> None:
    """Redis dies and comes back with nothing in it: what was told meanwhile is delivered after all."""
    port = own_servers.free_port()
    first = own_servers.redis(port)
    worker, schedule = tmp_path / "worker.txt", str(tmp_path / "beat-schedule")
    with (
        celery(first.url, worker, "worker", "--pool", "solo"),
        celery(first.url, tmp_path / "beat.txt", "beat", "--schedule", schedule, "--pidfile="),
    ):
        wait_until_sent(tell_from_another_process(environment(first.url)), worker)
        first.stop()
        Message.objects.all().delete()
        begun = time.monotonic()
        message = tell_from_another_process(environment(first.url))
        assert message.sent_at is None
        assert time.monotonic() - begun < 30
        Lease.objects.update(begun_at=LONG_AGO)

        second = own_servers.redis(port)
        try:
            wait_until_sent(message, worker)
        finally:
            second.stop()

    assert worker.read_text().count("Subject: Your seat") == 2
