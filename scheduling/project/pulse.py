"""What a serving process does beside its requests, in a thread of its own.

It hands on what the requests ring for, so that none waits for a broker or a mail server; with no Redis it
delivers that itself, and makes the rounds. A request never needs it: what it leaves undone is found later.
"""

from __future__ import annotations

import atexit
import logging
import os
import threading

from django.conf import settings
from django.db import close_old_connections

from scheduling.services.bell import bell
from scheduling.services.messages import hand_on
from scheduling.services.rounds import TICK_S, make_rounds

# A mail that is under way when the process ends may be ended properly, so that it is not sent twice.
PATIENCE_S = 10.0
# Whatever is rung for meanwhile is handed on together: in a rush a task for each seat would be much work.
BREATH_S = 0.5
log = logging.getLogger(__name__)


class Pulse:
    """The thread of one process."""

    def __init__(self) -> None:
        self._thread: threading.Thread | None = None
        self._ending = threading.Event()

    def start(self) -> None:
        """Begin; where it beats already, nothing happens."""
        if self._thread is not None and self._thread.is_alive():
            return
        # New, because a fork may have copied one in the middle of a change.
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._live, name="lehrbook-pulse", daemon=True)
        bell.listen()
        self._thread.start()

    def stop(self) -> None:
        """End after the step that is under way, if that does not take too long."""
        bell.leave()
        self._ending.set()
        bell.ring()  # it may be waiting
        if self._thread is not None:
            self._thread.join(PATIENCE_S)

    def _live(self) -> None:
        rung = False
        while not self._ending.is_set():
            if not beat(rung=rung):
                # Where the broker or the database is away, nobody is helped by asking all the time.
                self._ending.wait(TICK_S)
            self._ending.wait(BREATH_S)
            rung = bell.wait(TICK_S)
        # What was rung for while it was ending.
        beat(rung=rung)


def beat(*, rung: bool) -> bool:
    """Do what is to be done now; whether it could be done. What went wrong the next beat tries again."""
    close_old_connections()
    try:
        if rung:
            hand_on()
        if not settings.REDIS_URL:
            make_rounds()
    except Exception:
        log.exception("What is done beside the requests could not be done this time.")
        bell.ring()
        return False
    finally:
        close_old_connections()
    return True


pulse = Pulse()


def start() -> None:
    """Begin in this process, and in whatever is forked from it, unless the environment says not to."""
    if not settings.PULSE:
        return
    pulse.start()
    os.register_at_fork(after_in_child=pulse.start)
    atexit.register(pulse.stop)
