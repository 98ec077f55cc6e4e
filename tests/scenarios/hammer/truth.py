"""The tables after a load, held against what they promise and against what everybody was told.

Read through a connection of its own, in plain SQL, without a line of the project.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from tests.scenarios.hammer.clients import Entry, Journal
from tests.scenarios.hammer.kiln_promises import BOOKED, TOLD_ANEW
from tests.scenarios.hammer.known import made, subject
from tests.scenarios.hammer.promises import BROKEN, TOLD, WAITING

# What rows there are, where they stand, and which acts make them.
ROWS: dict[str, tuple[str, tuple[str, ...]]] = {
    "seats": ("scheduling_seat", ("reserve", "torch", "keep")),
    "sessions": ("scheduling_session", ("book", "join", "weekly")),
    "places in lines": ("scheduling_waitingplace", ("join_line",)),
    "records": ("scheduling_actual", ("record",)),
    "outages": ("scheduling_outage", ("outage",)),
    "kiln jobs": ("scheduling_kilnjob", ("ask_job", "add_pieces")),
    "answers": ("scheduling_kilnanswer", ("seek",)),
}


class Tables:
    """The tables, and what is wrong with them."""

    def __init__(self, connection: Any) -> None:
        self.connection = connection

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        return list(self.connection.execute(query).fetchall())

    def uids(self, query: str) -> set[str]:
        """The uids that a query gives, as text without hyphens on either database."""
        return {_plain(row[0]) for row in self.rows(query)}

    def known(self) -> dict[str, set[str]]:
        """Every row that stands now."""
        return {what: self.uids(f"SELECT uid FROM {table}") for what, (table, _) in ROWS.items()}

    def waits(self) -> bool:
        """Whether something is still to go on by itself."""
        return any(self.rows(query) for query in WAITING.values())

    def broken(self) -> list[str]:
        """Every promise that the tables break, with the first rows that do."""
        found = {promise: self.rows(query) for promise, query in (BROKEN | WAITING).items()}
        return [f"{promise}: {len(rows)}, such as {rows[:3]}" for promise, rows in found.items() if rows]

    def unlike(self, journal: Journal, before: dict[str, set[str]]) -> list[str]:
        """Where the tables and what clients were told differ, one way or the other."""
        return [
            *self._lost_or_doubled(journal, before),
            *self._ended(journal),
            *self._moved(journal),
            *self._kiln_jobs(journal),
            *self._answers(journal),
        ]

    def _lost_or_doubled(self, journal: Journal, before: dict[str, set[str]]) -> Iterator[str]:
        """Each acknowledged row is there, and no other but what the line has kept for somebody."""
        offers = self.uids(_noted("scheduling_seat", "offer"))
        for what, there in self.known().items():
            new, told = there - before[what], _made(journal.done(*ROWS[what][1]))
            yield from _some(f"{what} acknowledged and lost", told - new)
            yield from _some(f"{what} nobody was told of", new - told - offers)
        yield from _some("offers taken that the line never made", _made(journal.done("take")) - offers)

    def _ended(self, journal: Journal) -> Iterator[str]:
        """What was given back, left, struck or called off is, and what nobody ended stands."""
        for what, (told, gone, excused) in self._ends(journal).items():
            yield from _some(f"{what} ended and still there", told - gone)
            yield from _some(f"{what} gone that nobody ended", gone - told - excused)

    def _ends(self, journal: Journal) -> dict[str, tuple[set[str], set[str], set[str]]]:
        """Of each kind: what clients were told has ended, what has, and what went with something else."""
        off = "JOIN scheduling_session c ON c.id = s.session_id AND c.status = 'cancelled'"
        lapsed = self.uids("SELECT subject FROM scheduling_auditentry WHERE did IN ('lapse', 'lose-seat')")
        given_back = [*journal.done("give_back", "let_go"), *_with_seat(journal.done("leave"))]
        seats = self.uids(f"SELECT s.uid FROM scheduling_seat s {off}")
        places = self.uids(f"SELECT s.uid FROM scheduling_waitingplace s {off}") | self.uids(
            "SELECT w.uid FROM scheduling_waitingplace w "
            "JOIN scheduling_seat s ON s.id = w.seat_id AND s.status = 'cancelled'"
        )
        return {
            "seats": (
                {_plain(entry.answer.get("seat") or subject(entry)) for entry in given_back},
                self.uids("SELECT uid FROM scheduling_seat WHERE status = 'cancelled'"),
                lapsed | seats,
            ),
            "sessions": (
                _subjects(journal.done("call_off")),
                self.uids("SELECT uid FROM scheduling_session WHERE status = 'cancelled'"),
                set(),
            ),
            "places in lines": (
                _subjects(journal.done("leave")),
                self.uids("SELECT uid FROM scheduling_waitingplace WHERE status = 'left'"),
                places,
            ),
            "records": (
                _subjects(journal.done("strike")),
                self.uids("SELECT uid FROM scheduling_actual WHERE struck_at IS NOT NULL"),
                set(),
            ),
            "kiln jobs": (
                _subjects(journal.done("call_off_job")),
                self.uids("SELECT uid FROM scheduling_kilnjob WHERE status = 'cancelled'"),
                set(),
            ),
        }

    def _moved(self, journal: Journal) -> Iterator[str]:
        """A class was moved as often as clients were told, and lies where the last move put it."""
        moves: dict[str, dict[int, str]] = defaultdict(dict)
        booked = {_plain(entry.answer["uid"]): entry.answer for entry in journal.done("book", "join")}
        for entry in journal.done("move"):
            moves[_plain(subject(entry))][entry.answer["sequence"]] = entry.answer["starts_at"]
        rows = self.rows("SELECT uid, sequence, status, starts_at FROM scheduling_session")
        for uid, sequence, status, starts_at in rows:
            told = moves[_plain(uid)]
            last = told[max(told)] if told else booked.get(_plain(uid), {}).get("starts_at", starts_at)
            if sequence - (status == "cancelled") != len(told) or set(told) != set(range(1, len(told) + 1)):
                yield f"session {uid} has changed {sequence} times, and its moves were {told}"
            elif _instant(starts_at) != _instant(last):
                yield f"session {uid} is at {starts_at}, and was last put at {last}"
        noted = Counter(_plain(row[0]) for row in self.rows(_noted("scheduling_session", "move")))
        if noted != Counter({uid: len(told) for uid, told in moves.items()}):
            yield "the moves that were noted are not those that clients were told of"

    def _kiln_jobs(self, journal: Journal) -> Iterator[str]:
        """A kiln job is booked, and planned anew, as clients were told, and its pieces have come."""
        booked, added = list(journal.done("book_answer")), _subjects(journal.done("add_pieces"))
        first = {_plain(subject(entry)): _owner(entry) for entry in booked}
        first = {job: owner for job, owner in first.items() if job not in added}
        yield from _some("kiln jobs booked otherwise than was noted", first.keys() ^ self.uids(BOOKED))
        anew = Counter(_owner(entry) for entry in booked) - Counter(first.values())
        heard = {_plain(uid): times for uid, times in self.rows(TOLD_ANEW)}
        unlike = {one for one in anew | heard if anew.get(one, 0) != heard.get(one, 0)}
        yield from _some("people told otherwise of plans anew than was booked", unlike)
        told = _subjects(booked) | added
        stands = self.uids("SELECT uid FROM scheduling_kilnjob WHERE status = 'booked'")
        asked = self.uids("SELECT uid FROM scheduling_kilnjob WHERE status = 'asked'")
        yield from _some("kiln jobs booked that nobody was told of", stands - told)
        yield from _some("kiln jobs booked and only asked for", asked & told)
        brought = _subjects(journal.done("arrive"))
        yield from _some("pieces brought that have not come", brought & self.uids(_PIECES.format("=")))
        yield from _some("pieces that came unbrought", self.uids(_PIECES.format("<>")) - brought)

    def _answers(self, journal: Journal) -> Iterator[str]:
        """Each key has one answer in the tables: the one that its client has."""
        kept = {
            (str(person), key): status
            for person, key, status in self.rows(
                "SELECT person_id, key, status_code FROM scheduling_repeatedrequest"
            )
        }
        unlike = [entry for entry in journal.entries if not _same_answer(entry, kept)]
        if unlike:
            yield f"answers unlike the ones kept: {len(unlike)}, such as {unlike[0]}"

    def untold(self) -> Iterator[str]:
        """Where messages and what was done differ: one for each thing that stands, none for what does not."""
        for what, (messages, done) in TOLD.items():
            told, due = dict(self.rows(messages)), dict(self.rows(done))
            unlike = [who for who in sorted(told | due) if told.get(who, 0) != due.get(who, 0)]
            if unlike:
                who = unlike[0]
                yield (
                    f"'{what}' was told to {len(unlike)} people more or less often than done, "
                    f"such as {who}: {told.get(who, 0)} and {due.get(who, 0)} times"
                )

    def undelivered(self, mailed: list[str], *, once: bool) -> Iterator[str]:
        """Every message went out, and nothing went out that does not stand; `once`: nothing went twice."""
        messages = self.uids("SELECT uid FROM scheduling_message")
        went = Counter(_plain(uid) for uid in mailed)
        yield from _some("messages that never went out", messages - went.keys())
        yield from _some("mails of what does not stand", went.keys() - messages)
        if once:
            yield from _some("messages mailed twice", {uid for uid, times in went.items() if times > 1})


# Kiln jobs with a piece that is still to come, or is there.
_PIECES = """SELECT j.uid FROM scheduling_kilnjob j JOIN scheduling_piece p ON p.job_id = j.id
    AND p.state {} 'expected' AND p.state <> 'lost'"""


def _owner(entry: Entry) -> str:
    return _plain(entry.answer["owner"]["uid"])


def _noted(table: str, did: str) -> str:
    """The uids to which something was done, as often as it was noted."""
    return (
        f"SELECT a.subject FROM scheduling_auditentry a JOIN {table} t ON t.uid = a.subject "
        f"WHERE a.did = '{did}'"
    )


def _some(what: str, uids: set[str]) -> Iterator[str]:
    if uids:
        yield f"{what}: {len(uids)}, such as {sorted(uids)[:3]}"


def _made(entries: Iterable[Entry]) -> set[str]:
    return {_plain(uid) for entry in entries for uid in made(entry)}


def _subjects(entries: Iterable[Entry]) -> set[str]:
    return {_plain(subject(entry)) for entry in entries}


def _with_seat(entries: Iterable[Entry]) -> Iterator[Entry]:
    """Whoever leaves a line that has offered a seat gives that back, too."""
    return (entry for entry in entries if entry.answer["seat"])


def _same_answer(entry: Entry, kept: dict[tuple[str, str], int]) -> bool:
    """What is malformed is refused before its key is kept; every other answer is."""
    return kept.get((entry.asked.person["key"], entry.asked.key)) == entry.status


def _instant(moment: str | dt.datetime) -> dt.datetime:
    """The same instant from an answer and from either database, which has it in UTC."""
    read = moment if isinstance(moment, dt.datetime) else dt.datetime.fromisoformat(moment)
    return read.replace(tzinfo=dt.UTC) if read.tzinfo is None else read.astimezone(dt.UTC)


def _plain(uid: object) -> str:
    return str(uid).replace("-", "")
