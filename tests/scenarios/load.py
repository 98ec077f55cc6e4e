"""`python -m tests.scenarios.load`: many clients on a small hot set, and then the truth of the tables.

    the service in processes of its own --> clients, each with its seed --> journal --> plain SQL --> verdict

`--clients 32 --operations 20000 --seed 1 --database postgresql|sqlite`; with `--kill` web processes and the
worker are killed at random and started again, and Redis is away for a while. It ends by itself, with
`--minutes` after so many even if fewer operations were done.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import inf

from tests.scenarios.hammer import documented
from tests.scenarios.hammer.acts import Acts
from tests.scenarios.hammer.afresh import Afresh
from tests.scenarios.hammer.clients import Crowd, Journal
from tests.scenarios.hammer.killing import killing
from tests.scenarios.hammer.stack import Stack, serving, set_up
from tests.scenarios.hammer.truth import Tables

TOWN = "tests.scenarios.hammer.town"
DELIVERED_WITHIN_S = 900.0


@dataclass(frozen=True, kw_only=True)
class Load:
    """How much is asked of it."""

    database: str = "postgresql"
    clients: int = 32
    operations: int = 20_000
    seed: int = 1
    people: int = 60
    workers: int = 3
    threads: int = 8
    kill: bool = False
    redis_away_s: float = 60.0
    every_s: float = 8.0
    hurry: bool = False
    minutes: float = inf


@dataclass(kw_only=True)
class Verdict:
    """What came of it; nothing is wrong where the promises held. `errors` are what the service printed."""

    journal: Journal
    seconds: float
    killed: dict[str, int]
    mailed: int
    messages: int
    broken_off: int
    wrong: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        """The figures, and what is wrong."""
        count = len(self.journal.entries)
        yield f"{count} operations in {self.seconds / 60:.1f} min, {count / self.seconds:.0f} a second"
        yield f"{self.journal.repeated} repeated on purpose, {self.journal.broken_off} connections broken off"
        yield f"killed: {self.killed}" if self.killed else "nothing killed"
        yield f"{self.broken_off} searches broke off, and were sought afresh"
        yield f"{self.mailed} mails went out, of {self.messages} messages"
        yield from (f"  {count:6} {answer}" for answer, count in self.journal.by_answer().items())
        yield from (f"WRONG: {line}" for line in self.wrong)
        yield from self.errors if self.wrong else ()
        yield "Every promise was kept." if not self.wrong else f"{len(self.wrong)} promises were broken."


def put_to_the_test(load: Load) -> Verdict:
    """Bring the service up, let the crowd loose, wait until all is told, and look at the tables."""
    with contextlib.ExitStack() as after:
        stack = after.enter_context(serving(vendor=load.database, workers=load.workers, threads=load.threads))
        stack.town = json.loads(set_up(stack, TOWN, str(load.people), str(load.seed)).splitlines()[-1])
        tables = Tables(after.enter_context(contextlib.closing(stack.connect())))
        before = tables.known()
        acts = Acts(stack.town)
        crowd = Crowd(
            port=stack.port,
            seed=load.seed,
            clients=load.clients,
            patience_s=2.0 if load.kill else 60.0,
            minutes=load.minutes,
        )
        begun = time.monotonic()
        with killing(stack, load) as killer:
            crowd.run(load.operations, acts.choose, acts.learn)
        seconds = time.monotonic() - begun
        afresh = Afresh(stack=stack, crowd=crowd, learn=acts.learn)
        _settle(stack, load, crowd, acts, tables)
        afresh.see_to(tables)
        _settle(stack, load, crowd, acts, tables)
        found = crowd.journal
        wrong = [
            *found.wrong,
            *(f"never answered: {asked}" for asked in found.unanswered),
            *afresh.wrong,
            *documented.not_promised(stack, found),
            *tables.broken(),
            *tables.unlike(found, before),
            *tables.untold(),
            *tables.undelivered(stack.mailed(), once=not (load.kill or load.hurry)),
        ]
        errors = list(stack.errors())
        mailed, messages = len(stack.mailed()), tables.rows("SELECT count(*) FROM scheduling_message")[0][0]
    return Verdict(
        journal=found,
        seconds=seconds,
        killed=killer.killed,
        mailed=mailed,
        messages=messages,
        broken_off=afresh.broken_off,
        wrong=wrong,
        errors=errors,
    )


def _settle(stack: Stack, load: Load, crowd: Crowd, acts: Acts, tables: Tables) -> None:
    """Wait until what was put aside is answered, everything is told and all that lapses has lapsed.

    Who was killed in the middle of a request or a mail is found dead after some minutes; `hurry` does not
    wait for them, as nobody works on those any longer.
    """
    until = time.monotonic() + DELIVERED_WITHIN_S
    while time.monotonic() < until:
        if load.hurry:
            _let_minutes_pass(stack)
        crowd.finish(acts.learn)
        if not crowd.journal.unanswered and not tables.waits():
            return
        time.sleep(1)


def _let_minutes_pass(stack: Stack) -> None:
    """What was claimed or kept was so a while ago, and what is to be tried later is due."""
    earlier = {
        "postgresql": "CURRENT_TIMESTAMP - interval '10 minutes'",
        "sqlite": "datetime('now', '-10 minutes')",
    }[stack.vendor]
    connection = stack.connect()
    unoffered = "id NOT IN (SELECT seat_id FROM scheduling_waitingplace WHERE seat_id IS NOT NULL)"
    for statement in (
        f"UPDATE scheduling_repeatedrequest SET created_at = {earlier} WHERE status_code IS NULL",
        f"UPDATE scheduling_message SET next_try_at = {earlier} WHERE sent_at IS NULL",
        f"UPDATE scheduling_kilnanswer SET alive_at = {earlier} WHERE ended_at IS NULL",
        f"UPDATE scheduling_lease SET begun_at = {earlier}, until = {earlier}",
        f"UPDATE scheduling_seat SET kept_until = {earlier} WHERE status = 'kept' AND {unoffered}",
    ):
        connection.execute(statement)
    connection.close()


def main(words: Sequence[str]) -> int:
    """Do what the command line says; 1 when a promise was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.scenarios.load", description=__doc__)
    parser.add_argument("--database", choices=("postgresql", "sqlite"), default="postgresql")
    for name in ("clients", "operations", "seed", "people", "workers", "threads"):
        parser.add_argument(f"--{name}", type=int, default=getattr(Load, name))
    parser.add_argument("--kill", action="store_true")
    parser.add_argument("--hurry", action="store_true")
    parser.add_argument("--redis-away-s", type=float, default=Load.redis_away_s)
    parser.add_argument("--minutes", type=float, default=Load.minutes)
    parser.add_argument("--every-s", type=float, default=Load.every_s)
    verdict = put_to_the_test(Load(**vars(parser.parse_args(words))))
    sys.stdout.write("\n".join(verdict.lines()) + "\n")
    return 1 if verdict.wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
