"""Processes die at random in the middle of their work and come back, and Redis is away for a while."""

from __future__ import annotations

import contextlib
import threading
from collections import Counter
from collections.abc import Iterator
from random import Random
from typing import Protocol

from tests.scenarios.hammer.stack import Stack

SOUGHT = "SELECT 1 FROM scheduling_kilnanswer WHERE ended_at IS NULL"
# Looked for so often, so long after one another.
LOOKS, LOOK_EVERY_S = 100, 0.05


class Terms(Protocol):
    """How hard it is made."""

    @property
    def kill(self) -> bool: ...
    @property
    def seed(self) -> int: ...
    @property
    def every_s(self) -> float: ...
    @property
    def redis_away_s(self) -> float: ...


class Killer:
    """One thread that kills, and one that takes Redis away and brings it back."""

    def __init__(self, stack: Stack, terms: Terms) -> None:
        self.stack, self.terms = stack, terms
        self.killed: dict[str, int] = Counter()
        self._over = threading.Event()
        self._threads = [threading.Thread(target=each) for each in (self._kill, self._without_redis)]

    def start(self) -> None:
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """Everything runs again when this is over."""
        self._over.set()
        for thread in self._threads:
            thread.join()
        self.stack.start_redis()
        self.stack.wait_until_it_answers()

    def _kill(self) -> None:
        random = Random(self.terms.seed)
        while not self._over.wait(self.terms.every_s * random.uniform(0.5, 1.5)):
            what = random.choice(("a web process", "a web process", "all web processes", "the worker"))
            if what == "a web process":
                self.stack.web.kill_a_child(random.randrange(8))
            else:
                if what == "the worker" and self._sought(random):
                    what = "the worker in the middle of a search"
                for process in [self.stack.web] if what.startswith("all") else self.stack.beside:
                    process.kill()
                    process.start()
            self.killed[what] += 1
            # On a slow machine it takes a while to come back; who is hit before that does nothing at all.
            self.stack.wait_until_it_answers()

    def _sought(self, random: Random) -> bool:
        """Whether a plan for a kiln job is sought now, for a moment; one is waited for, but not long."""
        with contextlib.closing(self.stack.connect()) as connection:
            for _ in range(LOOKS):
                if connection.execute(SOUGHT).fetchone():
                    self._over.wait(random.uniform(0, 0.5))
                    return True
                if self._over.wait(LOOK_EVERY_S):
                    break
        return False

    def _without_redis(self) -> None:
        if self._over.wait(self.terms.every_s) or self.stack.redis is None:
            return
        self.stack.stop_redis()
        self._over.wait(self.terms.redis_away_s)
        self.stack.start_redis()
        self.killed["Redis"] += 1


@contextlib.contextmanager
def killing(stack: Stack, terms: Terms) -> Iterator[Killer]:
    """Kill while the block runs, where that is wanted."""
    killer = Killer(stack, terms)
    if not terms.kill:
        yield killer
        return
    killer.start()
    try:
        yield killer
    finally:
        killer.stop()
