"""What a client may do next with kiln jobs: ask, seek, book, add, call off, bring, break."""

from __future__ import annotations

import datetime as dt
import threading
from collections import defaultdict
from collections.abc import Callable
from random import Random
from typing import Any

from tests.scenarios.hammer.clients import Entry, Request
from tests.scenarios.hammer.known import Known, subject

# So many of each kind are known, the last ones: plans go stale soon, and all are after the same few.
MOST = {"asked": 6, "gone": 6, "answer": 5, "booked": 30, "open": 4}
MOULDED = ("fuse-slump", "cast")


class KilnActs:
    """What is known of kiln jobs, and what may be done with it; None where nobody knows of any."""

    def __init__(self, town: dict[str, Any]) -> None:
        self.town = town
        self._known: dict[str, list[Known]] = defaultdict(list)
        self._known["asked"] = [(job["uid"], job["owner"]) for job in town["jobs"]]
        self._job_of: dict[str, Known] = {}
        self._lock = threading.Lock()
        self.acts: tuple[tuple[Callable[[Random], Request | None], float], ...] = (
            (self.ask_job, 2.5),
            (self.seek, 3),
            (self.book_answer, 4),
            (self.add_pieces, 2),
            (self.call_off_job, 1.2),
            (self.arrive, 1),
            (self.stop_search, 0.3),
            (self.damage, 0.3),
            (self.open_shelves, 1),
            (self.close_shelves, 0.2),
        )

    def ask_job(self, random: Random) -> Request:
        """A few pieces of two sizes, which come in the next days and are wanted soon."""
        comes = dt.datetime.fromisoformat(self.town["comes"]) + dt.timedelta(hours=random.randrange(36))
        route = random.choice(("fuse", "fuse", "tack", "paint", *MOULDED))
        cold = route in {"fuse", "cast"} and random.random() < 0.6
        body = {
            "title": f"Dishes {random.randrange(1000)}",
            "sizes": self._sizes(random, moulded=route in MOULDED),
            "glass": self.town["fused"],
            "thickness_mm": random.choice((6, 6, 6, 4)),
            "route": route,
            "cold_min_each": random.choice((5, 15)) if cold else 0,
            "arrives_at": comes.isoformat(),
            "due_at": (comes + dt.timedelta(days=random.randrange(7, 15))).isoformat(),
            "studios": self.town["kiln_studios"][: random.choice((1, 1, 2))],
            "shares_space": random.random() < 0.7,
            "aim": random.choice(("earliest", "earliest", "cheapest", "fewest-visits")),
        }
        return self._student(random), "kiln-jobs/", body

    def _sizes(self, random: Random, *, moulded: bool) -> list[dict[str, Any]]:
        if moulded:
            mould = random.choice(self.town["moulds"])
            return [{"count": random.randrange(1, 5), "length_mm": 150, "width_mm": 130, "mould": mould}]
        return [
            {"count": random.randrange(2, 5), "length_mm": 180, "width_mm": 120},
            {"count": random.randrange(1, 5), "length_mm": 110, "width_mm": 110, "round": True},
        ]

    def seek(self, random: Random) -> Request | None:
        """A plan: for a job whose plan is gone, for a new one, or anew for one that is booked."""
        kind = random.choice(("gone", "gone", "asked", "asked", "asked", "booked"))
        job = self._one(kind, random) or self._one("asked", random)
        return None if job is None else (job[1], f"kiln-jobs/{job[0]}/seek/", {})

    def book_answer(self, random: Random) -> Request | None:
        """A plan that was sought is booked by somebody who books kilns; others want the same nights."""
        return self._by_staff("answer", "kiln-answers/{}/book/", random)

    def stop_search(self, random: Random) -> Request | None:
        """The best so far is good enough."""
        return self._by_staff("answer", "kiln-answers/{}/stop/", random)

    def add_pieces(self, random: Random) -> Request | None:
        """One or two pieces into the room that somebody's shelves leave."""
        firing = self._one("open", random)
        if firing is None:
            return None
        size = {"count": random.choice((1, 2)), "length_mm": random.choice((60, 90, 150)), "width_mm": 60}
        body = {"firing": firing[0], "sizes": [size], "glass": self.town["fused"]}
        return self._student(random), "open-firings/", {**body, "thickness_mm": random.choice((6, 4))}

    def open_shelves(self, random: Random) -> Request:
        """A class opens its firing to others, and keeps a shelf, or as few as it needs."""
        body = random.choice(({}, {"shelves_kept": 1}, {"shelves_kept": 2}))
        who = random.choice([*self.town["technicians"], *self.town["managers"]])
        return who, f"open-firings/{random.choice(self.town['class_firings'])}/open/", body

    def close_shelves(self, random: Random) -> Request | None:
        """Nobody is to add anything more."""
        return self._by_staff("open", "open-firings/{}/close/", random)

    def call_off_job(self, random: Random) -> Request | None:
        """A job less; what was added to somebody's firing is taken out of it."""
        job = self._one(random.choice(("booked", "booked", "booked", "asked")), random)
        if job is None:
            return None
        return random.choice((job[1], self._staff(random))), f"kiln-jobs/{job[0]}/cancel/", {}

    def arrive(self, random: Random) -> Request | None:
        """All its pieces have come."""
        return self._by_staff(random.choice(("asked", "booked")), "kiln-jobs/{}/arrive/", random)

    def damage(self, random: Random) -> Request:
        """A piece falls; where it is lost, a plan that was sought with it is one for other pieces."""
        piece = random.choice([piece for job in self.town["jobs"] for piece in job["pieces"]])
        body = {"damage": "fell", "lost": random.random() < 0.7}
        return self._staff(random), f"pieces/{piece}/damage/", body

    def learn(self, entry: Entry) -> None:
        """What anybody was told of a kiln job, everybody goes on with."""
        with self._lock:
            if entry.code == "plan-gone":
                self._plan_gone(entry)
            if entry.done:
                self._done(entry)

    def _plan_gone(self, entry: Entry) -> None:
        """Somebody was faster: the job is sought afresh, and that plan is wanted by nobody any more."""
        answer = entry.asked.path.split("/")[1]
        self._forget(answer)
        if answer in self._job_of:
            self._hear("gone", *self._job_of[answer])

    def _done(self, entry: Entry) -> None:
        act, who = entry.asked.act, entry.asked.person
        if act in {"book_answer", "call_off_job"}:
            self._forget(subject(entry))
        if act == "ask_job":
            self._hear("asked", subject(entry), who)
        if act == "open_shelves":
            self._hear("open", entry.asked.path.split("/")[1], who)
        if act == "seek":
            self._job_of[subject(entry)] = (entry.answer["job"], who)
            self._hear("answer", subject(entry), who)
        if act in {"book_answer", "add_pieces"}:
            self._hear("booked", subject(entry), who)
            for load in entry.answer["loads"] if entry.answer["shares_space"] else ():
                self._hear("open", load["firing"], who)

    def _hear(self, kind: str, uid: str, who: dict[str, str]) -> None:
        self._known[kind] = [*self._known[kind], (uid, who)][-MOST[kind] :]

    def _forget(self, uid: str) -> None:
        """A job, with the plans that were sought for it; or a plan."""
        gone = {uid, *(answer for answer, (job, _) in self._job_of.items() if job == uid)}
        for known in self._known.values():
            known[:] = [each for each in known if each[0] not in gone]

    def _one(self, kind: str, random: Random) -> Known | None:
        with self._lock:
            known = list(self._known[kind])
        return random.choice(known) if known else None

    def _by_staff(self, kind: str, path: str, random: Random) -> Request | None:
        found = self._one(kind, random)
        return None if found is None else (self._staff(random), path.format(found[0]), {})

    def _staff(self, random: Random) -> dict[str, str]:
        return dict(
            random.choice([*self.town["teachers"], *self.town["technicians"], *self.town["managers"]])
        )

    def _student(self, random: Random) -> dict[str, str]:
        return dict(random.choice(self.town["students"]))
