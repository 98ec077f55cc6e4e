"""A serving process without Redis delivers and makes the rounds beside its requests; nothing else does."""

from __future__ import annotations

import contextlib
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from scheduling.models import Lease, Message
from scheduling.models.leases import LONG_AGO
from studios.models import Person
from tests.other_process import environment
from tests.own_servers import LOOPBACK, free_port

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE_S = 120
WHO_LIVES = "import threading; print(sorted(thread.name for thread in threading.enumerate()))"
SERVING = f"import scheduling.project.wsgi; {WHO_LIVES}"


@pytest.fixture
def student(transactional_db: None) -> Person:
    return Person.objects.create_user("student@town.example", "glass", name="Student")


@pytest.fixture
def variables(tmp_path: Path, transactional_db: None) -> dict[str, str]:
    """The environment of a server on the test database, with a thread beside its requests."""
    (tmp_path / "data").mkdir()
    return environment(tmp_path / "data") | {"LEHRBOOK_PULSE": "1"}


class Served:
    """Lehrbook behind two worker processes; `printed` is what they printed, mail above all."""

    def __init__(self, process: subprocess.Popen[bytes], port: int, printed: Path) -> None:
        self.process, self.port, self._printed = process, port, printed

    @property
    def printed(self) -> str:
        return self._printed.read_text()

    def answers(self) -> bool:
        conversation = http.client.HTTPConnection(LOOPBACK, self.port, timeout=5)
        with contextlib.closing(conversation), contextlib.suppress(OSError, http.client.HTTPException):
            conversation.request("GET", "/api/me/")
            with conversation.getresponse() as answer:
                return answer.status == 401
        return False


@pytest.fixture
def served(variables: dict[str, str], tmp_path: Path) -> Iterator[Served]:
    """As `make run` serves it."""
    port, printed = free_port(), tmp_path / "printed.txt"
    address = ["--bind", f"{LOOPBACK}:{port}", "--workers", "2", "--threads", "2", "--no-control-socket"]
    with printed.open("wb") as output:
        process = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", "scheduling.project.wsgi:application", *address],
            env=variables,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
        server = Served(process, port, printed)
        try:
            wait_until(server.answers, server)
            yield server
        finally:
            process.terminate()
            process.wait(PATIENCE_S)


def wait_until(true: Callable[[], bool], served: Served) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < deadline, served.printed
        time.sleep(0.1)


def a_minute_passes(served: Served) -> None:
    """After the first round the next one is due, so that no test waits for it."""
    wait_until(Lease.objects.filter(name="outbox", ended_at__isnull=False).exists, served)
    Lease.objects.update(begun_at=LONG_AGO)


def test_of_two_serving_processes_one_delivers_what_nobody_rang_for(student: Person, served: Served) -> None:
    Message.objects.create(person=student, subject="Your seat", body="Torch 3.")
    a_minute_passes(served)

    wait_until(Message.objects.exclude(sent_at=None).exists, served)

    served.process.terminate()
    served.process.wait(PATIENCE_S)
    assert served.printed.count("Subject: Your seat") == 1
    assert {lease.last_error for lease in Lease.objects.all()} == {""}


def test_when_the_one_that_delivers_is_killed_the_rounds_go_on(student: Person, served: Served) -> None:
    a_minute_passes(served)
    killed = int(Lease.objects.get(name="outbox").holder.split()[1])
    os.kill(killed, signal.SIGKILL)

    Message.objects.create(person=student, subject="Your seat", body="Torch 3.")

    wait_until(Message.objects.exclude(sent_at=None).exists, served)
    assert int(Lease.objects.get(name="outbox").holder.split()[1]) != killed


def threads(variables: dict[str, str], script: str, **more: str) -> str:
    """Which threads live in a process after a script."""
    return subprocess.run(
        [sys.executable, "-c", script],
        env=variables | more | {"DJANGO_SETTINGS_MODULE": "scheduling.project.settings"},
        capture_output=True,
        text=True,
        check=True,
        timeout=PATIENCE_S,
    ).stdout


def test_only_what_serves_has_the_thread_and_only_if_the_environment_lets_it(
    variables: dict[str, str],
) -> None:
    assert "lehrbook-pulse" in threads(variables, SERVING)
    assert "lehrbook-pulse" in threads(variables, SERVING.replace("wsgi", "asgi"))
    assert "lehrbook-pulse" not in threads(variables, SERVING, LEHRBOOK_PULSE="0")
    assert "lehrbook-pulse" not in threads(variables, f"import django; django.setup(); {WHO_LIVES}")


def test_what_is_forked_from_a_serving_process_has_a_thread_of_its_own(variables: dict[str, str]) -> None:
    forked = (
        "import os, scheduling.project.wsgi\nchild = os.fork()\n"
        f"if child == 0:\n    {WHO_LIVES.replace('; ', chr(10) + '    ')}\n    os._exit(0)\n"
        "os.waitpid(child, 0)"
    )
    script = forked.replace("print(", "print(flush=True, *")

    assert "lehrbook-pulse" in threads(variables, script)


def test_a_request_does_not_wait_for_the_mail_and_what_it_rang_for_is_ended_with_the_process(
    variables: dict[str, str], student: Person
) -> None:
    """The mail takes a second; telling does not, and the process does not end in the middle of it."""
    script = """
import time
from django.core.mail import EmailMessage
def slowly(letter):
    time.sleep(1)
    print("mailed", flush=True)
import scheduling.project.wsgi
EmailMessage.send = slowly
from scheduling.services.messages import tell
from studios.models import Person
begun = time.monotonic()
tell(person=Person.objects.get(), subject="Your seat", body="Torch 3.")
print("told after", time.monotonic() - begun, flush=True)
"""

    told, mailed = threads(variables, script).splitlines()

    assert float(told.split()[-1]) < 0.9
    assert mailed == "mailed"
    assert Message.objects.get().sent_at is not None


def test_a_redis_that_hangs_holds_no_request_up(variables: dict[str, str], student: Person) -> None:
    """It takes the connection and says nothing: the thread waits for it, and nobody else does."""
    script = """
import time
import scheduling.project.wsgi
from scheduling.services.messages import tell
from studios.models import Person
begun = time.monotonic()
for number in range(5):
    tell(person=Person.objects.get(), subject=f"Seat {number}", body="Torch 3.")
print(time.monotonic() - begun, flush=True)
"""
    with socket.create_server((LOOPBACK, 0)) as hanging:
        address = f"redis://{LOOPBACK}:{hanging.getsockname()[1]}/0"

        told = threads(variables, script, LEHRBOOK_REDIS_URL=address)

    assert float(told) < 2
    assert Message.objects.filter(sent_at=None).count() == 5
