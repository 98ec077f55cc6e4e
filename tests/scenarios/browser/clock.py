"""For gunicorn (`-c python:…`): the clock of what it serves begins at a given hour and goes on."""

from __future__ import annotations

import datetime as dt
import os

import time_machine

BEGINS_AT = "TESTS_CLOCK_BEGINS_AT"


def post_fork(_server: object, _worker: object) -> None:
    """In the process that answers, before it has read anything of ours."""
    time_machine.travel(dt.datetime.fromisoformat(os.environ[BEGINS_AT])).start()
