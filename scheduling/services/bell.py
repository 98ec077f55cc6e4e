"""A bell in each process: whoever has written something to be done soon rings, and need not wait for it."""

from __future__ import annotations

import threading


class Bell:
    """Heard by one thread, where a process has one that listens."""

    def __init__(self) -> None:
        self._rung = threading.Event()
        self._heard = False

    def ring(self) -> bool:
        """Ring; whether anybody in this process hears it."""
        self._rung.set()
        return self._heard

    def listen(self) -> None:
        """From now on somebody hears it."""
        self._rung = threading.Event()
        self._heard = True

    def leave(self) -> None:
        """From now on nobody hears it."""
        self._heard = False

    def wait(self, seconds: float) -> bool:
        """Wait for a ring, at most so long; several that came meanwhile are one."""
        rung = self._rung.wait(seconds)
        self._rung.clear()
        return rung


bell = Bell()
