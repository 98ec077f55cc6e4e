"""People who do one thing after another without a plan, over HTTP, and note what they are told.

Every unsafe request has an Idempotency-Key. Where a connection breaks, the same request is sent again
with the same key until it is answered: what was answered is the journal, and the tables are held against it.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from math import inf
from random import Random
from typing import Any

from tests.own_servers import LOOPBACK

# Who asks, where, and with which body.
Request = tuple[dict[str, str], str, dict[str, Any]]

PATIENCE_S = 60.0
RUNNING = "request-running"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One unsafe request: who asks for what, under which key."""

    act: str
    person: dict[str, str]
    path: str
    body: dict[str, Any]
    key: str


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What came of a request."""

    asked: Asked
    status: int
    answer: Any

    @property
    def done(self) -> bool:
        return self.status < http.client.BAD_REQUEST

    @property
    def code(self) -> str:
        """The code of a refusal; empty for what was done."""
        return "" if self.done or not isinstance(self.answer, dict) else str(self.answer.get("code", "?"))


@dataclass
class Journal:
    """What all clients were told, and what they found to be wrong at once."""

    entries: list[Entry] = field(default_factory=list)
    unanswered: list[Asked] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    broken_off: int = 0
    repeated: int = 0

    def done(self, *acts: str) -> Iterator[Entry]:
        """What was acknowledged of these acts."""
        return (entry for entry in self.entries if entry.done and entry.asked.act in acts)

    def by_answer(self) -> dict[str, int]:
        """How often each act ended in which way."""
        counted = Counter(f"{one.asked.act}: {one.code or 'done'}" for one in self.entries)
        return dict(sorted(counted.items()))


class Line:
    """One client's connection; it is opened again where it breaks."""

    def __init__(self, port: int) -> None:
        self.port = port
        self._connection: http.client.HTTPConnection | None = None

    def post(self, asked: Asked) -> tuple[int, Any]:
        """Send it once. Raises OSError or HTTPException where there is no whole answer."""
        headers = {
            "Authorization": f"Token {asked.person['token']}",
            "Content-Type": "application/json",
            "Idempotency-Key": asked.key,
        }
        if self._connection is None:
            self._connection = http.client.HTTPConnection(LOOPBACK, self.port, timeout=60)
        try:
            self._connection.request("POST", f"/api/{asked.path}", json.dumps(asked.body), headers)
            answer = self._connection.getresponse()
            text = answer.read()
        except (OSError, http.client.HTTPException):
            self.close()
            raise
        with contextlib.suppress(ValueError):
            return answer.status, json.loads(text)
        return answer.status, text.decode(errors="replace")[:500]

    def close(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None


class Crowd:
    """Clients side by side, each with its own seed, and what they all know of."""

    def __init__(
        self, *, port: int, seed: int, clients: int, patience_s: float = PATIENCE_S, minutes: float = inf
    ) -> None:
        self.port, self.seed, self.clients, self.patience_s = port, seed, clients, patience_s
        self.ends_at = time.monotonic() + minutes * 60
        self.journal, self._lock = Journal(), threading.Lock()

    def run(
        self, operations: int, choose: Callable[[Random, str], Asked], learn: Callable[[Entry], None]
    ) -> None:
        """Do so many operations, or as many as time is left for.

        `choose` says what is tried next, `learn` is told what was done.
        """
        shares = [len(range(number, operations, self.clients)) for number in range(self.clients)]
        with ThreadPoolExecutor(self.clients) as pool:
            for each in [pool.submit(self._one, n, share, choose, learn) for n, share in enumerate(shares)]:
                each.result()

    def _one(
        self, number: int, share: int, choose: Callable[[Random, str], Asked], learn: Callable[[Entry], None]
    ) -> None:
        random, line = Random(self.seed * 1000 + number), Line(self.port)
        for count in range(share):
            if time.monotonic() > self.ends_at:
                break
            asked = choose(random, f"{self.seed}-{number}-{count}")
            entry = self.answered(line, asked)
            if entry is None:
                continue
            learn(entry)
            if random.random() < 0.05:
                self._again(line, entry)
        line.close()

    def answered(self, line: Line, asked: Asked) -> Entry | None:
        """Send it until it is answered, always with the same key; None when patience is at its end."""
        until = time.monotonic() + self.patience_s
        while time.monotonic() < until:
            try:
                status, answer = line.post(asked)
            except (OSError, http.client.HTTPException):
                with self._lock:
                    self.journal.broken_off += 1
                time.sleep(0.2)
                continue
            entry = Entry(asked=asked, status=status, answer=answer)
            if entry.code != RUNNING:
                self._note(entry)
                return entry
            time.sleep(0.2)
        with self._lock:
            self.journal.unanswered.append(asked)
        return None

    def finish(self, learn: Callable[[Entry], None]) -> None:
        """Have everything answered that was put aside."""
        line, waiting = Line(self.port), self.journal.unanswered
        self.journal.unanswered = []
        for asked in waiting:
            entry = self.answered(line, asked)
            if entry is not None:
                learn(entry)
        line.close()

    def _again(self, line: Line, entry: Entry) -> None:
        """The same request with the same key is answered as the first time."""
        with contextlib.suppress(OSError, http.client.HTTPException):
            status, answer = line.post(entry.asked)
            with self._lock:
                self.journal.repeated += 1
                if (status, answer) != (entry.status, entry.answer):
                    self.journal.wrong.append(f"{entry.asked} was answered {entry}, then {status} {answer}")

    def _note(self, entry: Entry) -> None:
        with self._lock:
            self.journal.entries.append(entry)
            if entry.status >= http.client.INTERNAL_SERVER_ERROR:
                self.journal.wrong.append(f"{entry.asked.act} was answered {entry.status}: {entry.answer}")
