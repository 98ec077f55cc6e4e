"""What a client may do next: mixed operations on a small hot set, from what all of them know."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from tests.scenarios.hammer.clients import Asked, Entry, Request
from tests.scenarios.hammer.kiln_acts import KilnActs
from tests.scenarios.hammer.known import Hearsay

WHILE_HOT = ("lit", "last-in", "soak-started", "stopped-early", "power-lost", "opened", "unloaded")


class Acts:
    """Chooses by weight; an act that has nothing to be done to yet (None) falls back on reserving."""

    def __init__(self, town: dict[str, Any]) -> None:
        self.town, self.known = town, Hearsay(list(town["sessions"]))
        self.kilns = KilnActs(town)
        self.acts: tuple[tuple[Callable[[Random], Request | None], float], ...] = (
            (self.reserve, 34),
            (self.give_back, 18),
            (self.keep, 9),
            (self.book_kept, 6),
            (self.keep_longer, 1),
            (self.let_go, 2),
            (self.join_line, 9),
            (self.take, 5),
            (self.leave, 1.5),
            (self.torch, 8),
            (self.book, 5),
            (self.join, 4),
            (self.weekly, 0.5),
            (self.move, 3),
            (self.call_off, 3),
            (self.record, 2),
            (self.strike, 1),
            (self.outage, 0.3),
            *self.kilns.acts,
        )

    def choose(self, random: Random, key: str) -> Asked:
        """The next request of one client."""
        makers, weights = zip(*self.acts, strict=True)
        act = random.choices(makers, weights)[0]
        request = act(random)
        if request is None:
            act, request = self.reserve, self.reserve(random)
        person, path, body = request
        return Asked(act=act.__name__, person=person, path=path, body=body, key=key)

    def learn(self, entry: Entry) -> None:
        """Everybody hears of it."""
        self.known.learn(entry)
        self.kilns.learn(entry)

    def reserve(self, random: Random) -> Request:
        """A seat in a class."""
        return self._student(random), "seats/", {"session": self.known.session(random)}

    def give_back(self, random: Random) -> Request | None:
        """A seat less."""
        return self._to_known("seat", "seats/{}/cancel/", random)

    def keep(self, random: Random) -> Request:
        """A seat or a torch, while somebody makes up their mind."""
        one = {"session": self.known.session(random)}
        body = one if random.random() < 0.8 else self._torch_hours(random)
        return self._student(random), "seats/keep/", body

    def book_kept(self, random: Random) -> Request | None:
        """What was kept is wanted."""
        return self._to_known("kept", "seats/{}/book/", random)

    def keep_longer(self, random: Random) -> Request | None:
        """A mind is not made up yet."""
        return self._to_known("kept", "seats/{}/keep-longer/", random)

    def let_go(self, random: Random) -> Request | None:
        """What was kept is not wanted."""
        return self._to_known("kept", "seats/{}/let-go/", random)

    def join_line(self, random: Random) -> Request:
        """A place in the line behind a full class."""
        return self._student(random), "waiting-places/", {"session": self.known.session(random)}

    def take(self, random: Random) -> Request | None:
        """The seat that is offered, if one is by now."""
        return self._to_known("place", "waiting-places/{}/take/", random)

    def leave(self, random: Random) -> Request | None:
        """Out of the line, or not wanted what it offers."""
        return self._to_known("place", "waiting-places/{}/leave/", random)

    def torch(self, random: Random) -> Request:
        """A torch in open bench time, on its own oxygen."""
        return self._student(random), "seats/", self._torch_hours(random)

    def book(self, random: Random) -> Request:
        """Any class at any time."""
        return self._class(random, random.choice(sorted(self.town["courses"])))

    def join(self, random: Random) -> Request:
        """A class in an hour in which an annealer may be held already."""
        return self._class(random, random.choice(("beads", "blowing")))

    def weekly(self, random: Random) -> Request:
        """A class on two days, a week apart, or on neither."""
        course, zone = random.choice(sorted(self.town["courses"])), ZoneInfo(self.town["zone"])
        begin = self._time(random).astimezone(zone)
        days = [(begin.date() + dt.timedelta(days=7 * week)).isoformat() for week in range(2)]
        body = {"course": course, "studio": self.town["courses"][course], "days": days}
        return random.choice(self.town["teachers"]), "series/", {**body, "time": f"{begin:%H:%M}"}

    def move(self, random: Random) -> Request:
        """A class goes to another time with all its seats."""
        body = {"starts_at": self._time(random).isoformat()}
        return self.town["managers"][0], f"sessions/{self.known.session(random)}/move/", body

    def call_off(self, random: Random) -> Request | None:
        """A class less."""
        return self._to_known("session", "sessions/{}/cancel/", random)

    def record(self, random: Random) -> Request:
        """Something that happened in a firing in the last hours."""
        now = dt.datetime.now(dt.UTC).replace(second=0, microsecond=0)
        read = random.random() < 0.6
        body = {
            "firing": random.choice(self.town["firings"]),
            "kind": "temperature" if read else random.choice(WHILE_HOT),
            "at": (now - dt.timedelta(minutes=random.randrange(240))).isoformat(),
            "read_c": random.randrange(40, 520) if read else None,
        }
        return self.town["technicians"][0], "actuals/", body

    def strike(self, random: Random) -> Request | None:
        """It was entered by mistake."""
        return self._to_known("actual", "actuals/{}/strike/", random)

    def outage(self, random: Random) -> Request:
        """Something breaks for half an hour."""
        body = {"equipment": random.choice(self.town["equipment"]), "reason": "broken"}
        return self.town["technicians"][0], "outages/", {**body, **_from(self._time(random), 30)}

    def _to_known(self, what: str, path: str, random: Random) -> Request | None:
        found = self.known.one(what, random)
        return None if found is None else (found[1], path.format(found[0]), {})

    def _student(self, random: Random) -> dict[str, str]:
        return dict(random.choice(self.town["students"]))

    def _class(self, random: Random, course: str) -> Request:
        studio, begin = self.town["courses"][course], self._time(random)
        body = {"course": course, "studio": studio, "starts_at": begin.isoformat()}
        return random.choice(self.town["teachers"]), "sessions/", body

    def _torch_hours(self, random: Random) -> dict[str, str]:
        return {"torch": random.choice(self.town["torches"]), **_from(self._time(random), 60)}

    def _time(self, random: Random) -> dt.datetime:
        day = dt.datetime.fromisoformat(random.choice(self.town["days"]))
        return day + dt.timedelta(minutes=random.choice((0, 15, 30)), hours=random.randrange(14))


def _from(begin: dt.datetime, minutes: int) -> dict[str, str]:
    return {"starts_at": begin.isoformat(), "ends_at": (begin + dt.timedelta(minutes=minutes)).isoformat()}
