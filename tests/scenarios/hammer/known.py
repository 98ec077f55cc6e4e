"""What all clients know of: what was answered to one of them, any other goes on with."""

from __future__ import annotations

import threading
from collections import defaultdict
from random import Random

from tests.scenarios.hammer.clients import Entry

# The set that everybody is after stays small and hot.
MOST_KNOWN, MOST_SESSIONS = 60, 24

Known = tuple[str, dict[str, str]]

MAKES = {
    "reserve": "seat",
    "torch": "seat",
    "book_kept": "seat",
    "take": "seat",
    "keep": "kept",
    "join_line": "place",
    "book": "session",
    "join": "session",
    "weekly": "session",
    "record": "actual",
}
ENDS = {"give_back", "let_go", "book_kept", "take", "leave", "call_off", "strike"}


def made(entry: Entry) -> list[str]:
    """The uids of what an act has made, or taken."""
    if entry.asked.act == "weekly":
        return [meeting["uid"] for meeting in entry.answer["meetings"]]
    return [entry.answer["seat"] if entry.asked.act == "take" else subject(entry)]


def subject(entry: Entry) -> str:
    """The uid of what an act was done to."""
    return str(entry.answer.get("actual", entry.answer)["uid"])


class Hearsay:
    """The last things that anybody heard of, with whose they are."""

    def __init__(self, sessions: list[str]) -> None:
        self.sessions = sessions
        self._known: dict[str, list[Known]] = defaultdict(list)
        self._lock = threading.Lock()

    def learn(self, entry: Entry) -> None:
        """What was done can be given back, called off or moved by anybody who hears of it."""
        act = entry.asked.act
        if not entry.done:
            return
        with self._lock:
            if act in ENDS:
                self._forget(subject(entry))
            if act in MAKES:
                self._hear(MAKES[act], [(uid, entry.asked.person) for uid in made(entry)])

    def one(self, what: str, random: Random) -> Known | None:
        """Something of a kind, and whose it is; None before anybody has heard of any."""
        with self._lock:
            known = list(self._known[what])
        return random.choice(known) if known else None

    def session(self, random: Random) -> str:
        """A class, whosever it is."""
        return random.choice(self.sessions)

    def _forget(self, uid: str) -> None:
        """What is gone is asked for no more, but by those who have not heard of it yet."""
        self.sessions = [each for each in self.sessions if each != uid] or self.sessions
        for known in self._known.values():
            known[:] = [each for each in known if each[0] != uid]

    def _hear(self, what: str, new: list[Known]) -> None:
        self._known[what] = [*self._known[what], *new][-MOST_KNOWN:]
        if what == "session":
            self.sessions = [*self.sessions, *(uid for uid, _ in new)][-MOST_SESSIONS:]
