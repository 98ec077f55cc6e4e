"""What a client may do next: mixed operations on a small hot set, from what all of them know."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable
from random import Random
from typing import Any

from tests.scenarios.hammer.clients import Asked, Entry

MOST_KNOWN = 24


class Acts:
    """Chooses by weight; a name that nobody knows of yet falls back on reserving."""

    def __init__(self, town: dict[str, Any]) -> None:
        self.town, self._lock = town, threading.Lock()
        self.known: dict[str, list[tuple[str, dict[str, str]]]] = {"seat": [], "session": []}
        self.sessions: list[str] = list(town["sessions"])
        self.acts: tuple[tuple[Callable[[Random], tuple[Any, ...]], float], ...] = (
            (self.reserve, 45),
            (self.give_back, 24),
            (self.torch, 10),
            (self.book, 6),
            (self.join, 4),
            (self.call_off, 4),
            (self.outage, 0.3),
        )

    def choose(self, random: Random, key: str) -> Asked:
        """The next request of one client."""
        makers, weights = zip(*self.acts, strict=True)
        act = random.choices(makers, weights)[0]
        made = act(random)
        if not made:
            act, made = self.reserve, self.reserve(random)
        person, path, body = made
        return Asked(act=act.__name__, person=person, path=path, body=body, key=key)

    def learn(self, entry: Entry) -> None:
        """What was done can be given back, called off or moved by anybody who hears of it."""
        if not entry.done:
            return
        with self._lock:
            if entry.asked.path == "sessions/":
                self._hear("session", entry)
                self.sessions = [*self.sessions, entry.answer["uid"]][-MOST_KNOWN:]
            elif entry.asked.path == "seats/":
                self._hear("seat", entry)
            elif entry.asked.act in {"give_back", "call_off"}:
                self._forget(entry.answer["uid"])

    def _forget(self, uid: str) -> None:
        """What is gone is asked for no more, but by those who have not heard of it yet."""
        self.sessions = [each for each in self.sessions if each != uid] or self.sessions
        for known in self.known.values():
            known[:] = [each for each in known if each[0] != uid]

    def _hear(self, what: str, entry: Entry) -> None:
        known = self.known[what]
        known.append((entry.answer["uid"], entry.asked.person))
        del known[:-MOST_KNOWN]

    def reserve(self, random: Random) -> tuple[Any, ...]:
        """A seat in a class."""
        return random.choice(self.town["students"]), "seats/", {"session": random.choice(self.sessions)}

    def give_back(self, random: Random) -> tuple[Any, ...]:
        """A seat less."""
        return self._undo(random, "seat", "seats/{}/cancel/")

    def call_off(self, random: Random) -> tuple[Any, ...]:
        """A class less."""
        return self._undo(random, "session", "sessions/{}/cancel/")

    def _undo(self, random: Random, what: str, path: str) -> tuple[Any, ...]:
        with self._lock:
            known = list(self.known[what])
        if not known:
            return ()
        uid, person = random.choice(known)
        return person, path.format(uid), {}

    def torch(self, random: Random) -> tuple[Any, ...]:
        """A torch in open bench time, on its own oxygen."""
        begin = self._time(random)
        return (
            random.choice(self.town["students"]),
            "seats/",
            {"torch": random.choice(self.town["torches"]), **_from(begin, 60)},
        )

    def book(self, random: Random) -> tuple[Any, ...]:
        """Any class at any time."""
        return self._class(random, random.choice(sorted(self.town["courses"])))

    def join(self, random: Random) -> tuple[Any, ...]:
        """A class in an hour in which an annealer may be held already."""
        return self._class(random, random.choice(("beads", "blowing")))

    def _class(self, random: Random, course: str) -> tuple[Any, ...]:
        studio, begin = self.town["courses"][course], self._time(random)
        body = {"course": course, "studio": studio, "starts_at": begin.isoformat()}
        return random.choice(self.town["teachers"]), "sessions/", body

    def outage(self, random: Random) -> tuple[Any, ...]:
        """Something breaks for half an hour."""
        body = {"equipment": random.choice(self.town["equipment"]), "reason": "broken"}
        return self.town["technicians"][0], "outages/", {**body, **_from(self._time(random), 30)}

    def _time(self, random: Random) -> dt.datetime:
        day = dt.datetime.fromisoformat(random.choice(self.town["days"]))
        return day + dt.timedelta(minutes=random.choice((0, 15, 30)), hours=random.randrange(14))


def _from(begin: dt.datetime, minutes: int) -> dict[str, str]:
    return {"starts_at": begin.isoformat(), "ends_at": (begin + dt.timedelta(minutes=minutes)).isoformat()}
