"""Searches that nobody ended: each is seen to have broken off, books nothing, and a fresh one ends.

Whoever sought is dead, or never heard of it: a worker that was killed, a queue that went with Redis.
"""

from __future__ import annotations

import json
import time
import urllib.request
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from uuid import UUID

from tests.own_servers import LOOPBACK
from tests.scenarios.hammer.clients import Asked, Crowd, Entry, Line
from tests.scenarios.hammer.stack import Stack
from tests.scenarios.hammer.truth import Tables

# A search may be silent for a while before it is seen, and waits behind others for another.
SEEN_WITHIN_S = 150.0
MOST = 12

UNENDED = """
    SELECT a.uid, j.uid, j.status FROM scheduling_kilnanswer a JOIN scheduling_kilnjob j ON j.id = a.job_id
    WHERE a.ended_at IS NULL ORDER BY a.id"""


@dataclass(kw_only=True)
class Afresh:
    """Somebody who books kilns looks after searches that nobody ended; `wrong` is what they find."""

    stack: Stack
    crowd: Crowd
    learn: Callable[[Entry], None]
    broken_off: int = 0
    wrong: list[str] = field(default_factory=list)

    def see_to(self, tables: Tables) -> None:
        """Wait until none is sought any more; what broke off cannot be booked, and is sought again."""
        left = {_uid(answer): (_uid(job), status) for answer, job, status in tables.rows(UNENDED)}
        stands = self._settled(left)
        off = [answer for answer, how in stands.items() if how == "broken-off"]
        self.broken_off = len(off)
        again = sorted({left[answer][0] for answer in off if left[answer][1] in {"asked", "booked"}})
        for answer in off[:MOST]:
            booked = self._post("book_answer", f"kiln-answers/{answer}/book/")
            if booked is None or booked.code != "over":
                self.wrong.append(f"an answer that broke off was booked: {booked}")
        sought = [self._post("seek", f"kiln-jobs/{job}/seek/") for job in again[:MOST]]
        self._settled([entry.answer["uid"] for entry in sought if entry is not None and entry.done])
        self.wrong += [f"not sought afresh: {entry}" for entry in sought if entry is None or not entry.done]

    def _settled(self, answers: Iterable[str]) -> dict[str, str]:
        """How each of these answers stands, as soon as none is sought any more."""
        until, stands = time.monotonic() + SEEN_WITHIN_S, dict.fromkeys(answers, "seeking")
        while "seeking" in stands.values():
            if time.monotonic() > until:
                self.wrong.append(f"answers that are sought for ever: {stands}")
                break
            stands |= {answer: self._stands(answer) for answer, how in stands.items() if how == "seeking"}
            time.sleep(0.2)
        return stands

    def _stands(self, answer: str) -> str:
        request = urllib.request.Request(
            f"http://{LOOPBACK}:{self.stack.port}/api/kiln-answers/{answer}/",
            headers={"Authorization": f"Token {self._manager['token']}"},
        )
        with urllib.request.urlopen(request, timeout=60) as read:
            return str(json.load(read)["stands"])

    def _post(self, act: str, path: str) -> Entry | None:
        line = Line(self.stack.port)
        asked = Asked(act=act, person=self._manager, path=path, body={}, key=f"afresh-{path}")
        entry = self.crowd.answered(line, asked)
        line.close()
        if entry is not None:
            self.learn(entry)
        return entry

    @property
    def _manager(self) -> dict[str, str]:
        return dict(self.stack.town["managers"][0])


def _uid(value: object) -> str:
    """As it stands in an address, from either database."""
    return str(UUID(str(value)))
