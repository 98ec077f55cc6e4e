"""`python -m tests.benchmarks.seat_rate`: our endpoint beside a bare one, on PostgreSQL, in one run.

the service with a bare endpoint beside ours --> clients, in turns of ours and bare --> seats a second
the same statements by pgbench: as many as the database alone would do
"""

from __future__ import annotations

import json
import statistics
import sys
from collections.abc import Iterator

from tests.benchmarks.seat_rate import statements
from tests.benchmarks.seat_rate.clients import request, seconds_for
from tests.scenarios.hammer.stack import Stack, serving, set_up

CLIENTS, WORKERS, THREADS = 8, 4, 2
ROUNDS = 7
OURS, BARE = "/api/seats/", "/bare-seats/"
# The same for both, so that each turn begins with empty classes.
EMPTY = ("scheduling_personspan", "scheduling_message", "scheduling_repeatedrequest", "scheduling_seat")


def rates(stack: Stack, sessions: list[str], tokens: list[str]) -> dict[str, float]:
    """Seats a second through either endpoint: the median of several turns, the first one left out."""
    found: dict[str, list[float]] = {OURS: [], BARE: []}
    for number in range(ROUNDS + 1):
        for path in (OURS, BARE):
            wishes = [
                request(path, token, sessions[n % len(sessions)], f"{number}-{n}")
                for n, token in enumerate(tokens)
            ]
            found[path].append(len(wishes) / seconds_for(wishes, stack.port, CLIENTS))
            _empty(stack)
    return {path: statistics.median(each[1:]) for path, each in found.items()}


def _empty(stack: Stack) -> None:
    with stack.connect() as connection:
        for table in EMPTY:
            connection.execute(f"DELETE FROM {table}")


def rows() -> Iterator[str]:
    """Markdown: a line for one hot session, and one for a hundred."""
    yield "| seats a second | ours | bare | ours / bare | the statements alone (pgbench) |"
    yield "| --- | --- | --- | --- | --- |"
    application = "tests.benchmarks.seat_rate.bare:application"
    with serving(
        vendor="postgresql", workers=WORKERS, threads=THREADS, application=application, web_only=True
    ) as stack:
        town = json.loads(set_up(stack, "tests.benchmarks.seat_rate.town").splitlines()[-1])
        for name, key, count in (("one session", "hot", 120), ("100 sessions", "many", 1200)):
            rate = rates(stack, town[key], town["tokens"][:count])
            alone = statements.rate(stack, town[key], count, CLIENTS)
            _empty(stack)
            ours, bare = rate[OURS], rate[BARE]
            yield f"| {name} | {ours:.0f} | {bare:.0f} | {ours / bare:.0%} | {alone:.0f} |"


def main() -> int:
    for row in rows():
        sys.stdout.write(row + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
