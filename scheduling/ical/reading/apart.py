"""What a stranger wrote is read in a process of its own, which may take so much time and memory and no more.

A rule can be short and have a million instances, or none in ten thousand years; nothing but a bound from
outside ends that. The process also keeps the zones that one calendar defines from the next one.
"""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
from collections.abc import Collection
from pathlib import Path
from uuid import UUID
from zoneinfo import ZoneInfo

from scheduling.errors import UnreadableCalendar
from scheduling.ical.reading.busy import Span, Window, busy_spans

try:
    import resource
except ImportError:  # Windows: the time is still bounded
    resource = None  # type: ignore[assignment]

ROOT = Path(__file__).resolve().parents[3]
MOST_BYTES = 5 * 1024 * 1024
MOST_SECONDS = 20
MOST_MEMORY = 1024 * 1024 * 1024


def busy_apart(content: bytes, window: Window, left_out: Collection[UUID] = ()) -> list[Span]:
    """As `busy_spans`, in a process of its own. Raises UnreadableCalendar in any case within the bounds."""
    if len(content) > MOST_BYTES:
        reason = f"The file is larger than {MOST_BYTES // 1024 // 1024} MB."
        raise UnreadableCalendar(line=1, reason=reason)
    moments = (window.begin.isoformat(), window.end.isoformat(), window.zone.key)
    names = json.dumps([str(uid) for uid in left_out]).encode()
    try:
        ran = subprocess.run(  # noqa: S603 - our own module; what is read comes by its standard input
            [sys.executable, "-m", __name__, *moments],
            cwd=ROOT,
            input=names + b"\n" + content,
            capture_output=True,
            timeout=MOST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise _too_much() from error
    if ran.returncode:
        raise _too_much()
    answer = json.loads(ran.stdout)
    if "reason" in answer:
        raise UnreadableCalendar(line=answer["line"], reason=answer["reason"])
    return [
        (dt.datetime.fromisoformat(begin), dt.datetime.fromisoformat(end)) for begin, end in answer["busy"]
    ]


def _too_much() -> UnreadableCalendar:
    reason = "It takes too long to read: an event repeats too often, or never where it says it does."
    return UnreadableCalendar(line=1, reason=reason)


def main(begin: str, end: str, zone: str) -> None:
    """Read standard input, first what is to be left out and then the calendar, and answer with JSON."""
    if resource is not None:
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    window = Window(
        begin=dt.datetime.fromisoformat(begin), end=dt.datetime.fromisoformat(end), zone=ZoneInfo(zone)
    )
    try:
        left_out = [UUID(name) for name in json.loads(sys.stdin.buffer.readline())]
        found = busy_spans(sys.stdin.buffer.read(), window, left_out)
        answer: dict[str, object] = {"busy": [[one.isoformat() for one in span] for span in found]}
    except UnreadableCalendar as error:
        answer = {"line": error.facts["line"], "reason": error.facts["reason"]}
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main(*sys.argv[1:])
