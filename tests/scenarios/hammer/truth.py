"""What must be true of the tables after any load, asked in plain SQL without a line of the project.

Each query finds what breaks one promise; a book that keeps them all gives no row.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

from tests.scenarios.hammer.clients import Entry, Journal

TAKEN = "status IN ('kept', 'booked')"
BROKEN: dict[str, str] = {
    "equipment is held twice": """
        SELECT a.equipment_id, a.place, a.exclusive_from, b.exclusive_from
        FROM scheduling_occupancy a JOIN scheduling_occupancy b
        ON a.equipment_id = b.equipment_id AND a.place = b.place AND a.id < b.id
        AND a.exclusive_from < b.exclusive_to AND b.exclusive_from < a.exclusive_to""",
    "a person is at two places": """
        SELECT a.person_id, a.starts_at, b.starts_at
        FROM scheduling_personspan a JOIN scheduling_personspan b
        ON a.person_id = b.person_id AND a.id < b.id
        AND a.starts_at < b.ends_at AND b.starts_at < a.ends_at""",
    "more seats are taken than there are": f"""
        SELECT s.id, s.seats, count(*) FROM scheduling_session s
        JOIN scheduling_seat seat ON seat.session_id = s.id AND seat.{TAKEN}
        GROUP BY s.id, s.seats HAVING count(*) > s.seats""",
    "a seat is taken twice": f"""
        SELECT session_id, number FROM scheduling_seat WHERE session_id IS NOT NULL AND {TAKEN}
        GROUP BY session_id, number HAVING count(*) > 1""",
    "a torch of a class is taken twice": f"""
        SELECT session_id, torch_id FROM scheduling_seat
        WHERE session_id IS NOT NULL AND torch_id IS NOT NULL AND {TAKEN}
        GROUP BY session_id, torch_id HAVING count(*) > 1""",
    "somebody sits twice in a class": f"""
        SELECT session_id, person_id FROM scheduling_seat WHERE session_id IS NOT NULL AND {TAKEN}
        GROUP BY session_id, person_id HAVING count(*) > 1""",
    "a seat stands in a class that is called off": f"""
        SELECT seat.id FROM scheduling_seat seat JOIN scheduling_session s ON s.id = seat.session_id
        WHERE s.status = 'cancelled' AND seat.{TAKEN}""",
    "a seat and its class are at different times": f"""
        SELECT seat.id FROM scheduling_seat seat JOIN scheduling_session s ON s.id = seat.session_id
        WHERE seat.{TAKEN} AND (s.starts_at <> seat.starts_at OR s.ends_at <> seat.ends_at)""",
    "a booked seat has no time of its person, or one that is none has": """
        SELECT seat.id FROM scheduling_seat seat LEFT JOIN scheduling_personspan span
        ON span.seat_id = seat.id AND span.starts_at = seat.starts_at AND span.person_id = seat.person_id
        WHERE (seat.status = 'booked') <> (span.id IS NOT NULL)""",
    "a class that stands has nobody's time": """
        SELECT s.id FROM scheduling_session s LEFT JOIN scheduling_personspan span
        ON span.session_id = s.id AND span.person_id = s.instructor_id
        WHERE (s.status = 'booked') <> (span.id IS NOT NULL)""",
    "a booking that is called off holds something": """
        SELECT b.id FROM scheduling_booking b JOIN scheduling_occupancy o ON o.booking_id = b.id
        WHERE b.status = 'cancelled'""",
    "a firing ends before one of its loads is in": """
        SELECT f.id FROM scheduling_firing f JOIN scheduling_load l ON l.firing_id = f.id
        WHERE f.status = 'booked' AND (l.in_until > f.last_in_at OR f.unload_at < l.in_until)""",
    "a firing holds its oven for less time than it burns": """
        SELECT f.id FROM scheduling_firing f LEFT JOIN scheduling_occupancy o ON o.firing_id = f.id
        WHERE f.status = 'booked' AND (o.id IS NULL OR o.ends_at < f.unload_at)""",
    "a firing without a load lives, or one that is called off holds something": """
        SELECT f.id FROM scheduling_firing f
        WHERE (f.status = 'booked') <> EXISTS (SELECT 1 FROM scheduling_load l WHERE l.firing_id = f.id)
        OR (f.status = 'cancelled' AND EXISTS
            (SELECT 1 FROM scheduling_occupancy o WHERE o.firing_id = f.id))""",
    "more lies in an oven than it has room for": """
        SELECT f.id FROM scheduling_firing f JOIN scheduling_load l ON l.firing_id = f.id
        JOIN studios_equipment e ON e.id = f.equipment_id
        GROUP BY f.id, e.capacity_cm2 HAVING sum(l.footprint_cm2) > e.capacity_cm2""",
    "a supply gives more than it has": """
        SELECT u.supply_id, u.starts_at, sum(other.amount) FROM scheduling_supplyuse u
        JOIN scheduling_supplyuse other ON other.supply_id = u.supply_id
        AND other.starts_at <= u.starts_at AND u.starts_at < other.ends_at
        JOIN studios_supply s ON s.id = u.supply_id
        GROUP BY u.id, u.supply_id, u.starts_at, s."limit" HAVING sum(other.amount) > s."limit" + 0.000001""",
    "somebody stands twice in a line": """
        SELECT session_id, person_id FROM scheduling_waitingplace WHERE status IN ('waiting', 'offered')
        GROUP BY session_id, person_id HAVING count(*) > 1""",
    "a line is not in the order of joining": """
        SELECT a.id, b.id FROM scheduling_waitingplace a JOIN scheduling_waitingplace b
        ON a.session_id = b.session_id AND a.id < b.id AND a.joined_at > b.joined_at""",
    "somebody who came later was offered a seat before who waits and had no other plans": """
        SELECT a.id, b.id FROM scheduling_waitingplace a JOIN scheduling_waitingplace b
        ON a.session_id = b.session_id AND a.id < b.id AND a.status = 'waiting' AND b.status <> 'waiting'
        AND b.seat_id IS NOT NULL
        WHERE NOT EXISTS (SELECT 1 FROM scheduling_seat seat WHERE seat.person_id = a.person_id)""",
    "an offer has no kept seat of its person": """
        SELECT w.id FROM scheduling_waitingplace w LEFT JOIN scheduling_seat seat ON seat.id = w.seat_id
        WHERE w.status = 'offered' AND (seat.id IS NULL OR seat.status <> 'kept'
        OR seat.person_id <> w.person_id OR seat.session_id <> w.session_id)""",
    "a request is still under way": """
        SELECT id, key FROM scheduling_repeatedrequest WHERE status_code IS NULL""",
    "what was done stands in the book more than once": """
        SELECT did, subject FROM scheduling_auditentry
        WHERE did IN ('reserve', 'book', 'call-off', 'give-back', 'keep')
        GROUP BY did, subject HAVING count(*) > 1""",
}
ROWS = {
    "seats": ("scheduling_seat", ("reserve", "torch", "keep")),
    "sessions": ("scheduling_session", ("book", "join")),
    "outages": ("scheduling_outage", ("outage",)),
}
# How a message begins, how many each person has, and how many were due to each.
TOLD: tuple[tuple[str, str, str], ...] = (
    (
        "Reserved: ",
        "SELECT person_id, count(*) FROM scheduling_message WHERE subject LIKE 'Reserved: %' GROUP BY 1",
        (
            "SELECT s.person_id, count(*) FROM scheduling_auditentry a JOIN scheduling_seat s "
            "ON s.uid = a.subject WHERE a.did = 'reserve' GROUP BY 1"
        ),
    ),
    (
        "Booked: ",
        "SELECT person_id, count(*) FROM scheduling_message WHERE subject LIKE 'Booked: %' GROUP BY 1",
        (
            "SELECT s.instructor_id, count(*) FROM scheduling_auditentry a JOIN scheduling_session s "
            "ON s.uid = a.subject WHERE a.did = 'book' GROUP BY 1"
        ),
    ),
)


class Tables:
    """The tables, read through a connection that the project knows nothing of."""

    def __init__(self, connection: Any) -> None:
        self.connection = connection

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        return list(self.connection.execute(query).fetchall())

    def uids(self, query: str) -> set[str]:
        """The uids that a query gives, as text without hyphens on either database."""
        return {_plain(row[0]) for row in self.rows(query)}

    def broken(self) -> list[str]:
        """Every promise that the tables break, with the first rows that do."""
        found = {promise: self.rows(query) for promise, query in BROKEN.items()}
        return [f"{promise}: {len(rows)}, such as {rows[:3]}" for promise, rows in found.items() if rows]

    def unlike(self, journal: Journal, before: dict[str, set[str]]) -> list[str]:
        """Where the tables and what clients were told differ, one way or the other."""
        return [
            *self._lost_or_doubled(journal, before),
            *self._undone(journal),
            *self._answers(journal),
        ]

    def known(self) -> dict[str, set[str]]:
        """Every row that stands now."""
        return {what: self.uids(f"SELECT uid FROM {table}") for what, (table, _) in ROWS.items()}

    def _lost_or_doubled(self, journal: Journal, before: dict[str, set[str]]) -> list[str]:
        """Each acknowledged row is there, and no other but what the line has kept for somebody."""
        wrong, offers = (
            [],
            self.uids(
                "SELECT s.uid FROM scheduling_seat s JOIN scheduling_auditentry a ON a.subject = s.uid "
                "WHERE a.did = 'offer'"
            ),
        )
        for what, (_, acts) in ROWS.items():
            there = self.known()[what] - before[what]
            told = {_plain(entry.answer["uid"]) for entry in journal.done(*acts)}
            if lost := told - there:
                wrong.append(f"{what} acknowledged and lost: {len(lost)}, such as {sorted(lost)[:3]}")
            if doubled := there - told - offers:
                wrong.append(f"{what} nobody was told of: {len(doubled)}, such as {sorted(doubled)[:3]}")
        return wrong

    def _undone(self, journal: Journal) -> list[str]:
        """What was given back or called off is, and what nobody gave back stands."""
        gone = {
            "seats": self.uids("SELECT uid FROM scheduling_seat WHERE status = 'cancelled'"),
            "sessions": self.uids("SELECT uid FROM scheduling_session WHERE status = 'cancelled'"),
        }
        told = {
            "seats": {_plain(entry.answer["uid"]) for entry in journal.done("give_back", "let_go")},
            "sessions": {_plain(entry.answer["uid"]) for entry in journal.done("call_off")},
        }
        by_others = self.uids(
            "SELECT s.uid FROM scheduling_seat s JOIN scheduling_session c ON c.id = s.session_id "
            "WHERE c.status = 'cancelled'"
        ) | self.uids("SELECT subject FROM scheduling_auditentry WHERE did IN ('lapse', 'lose-seat')")
        wrong = [f"{what} undone and still there: {told[what] - gone[what]}" for what in gone]
        wrong = [line for line in wrong if not line.endswith("set()")]
        if unasked := gone["seats"] - told["seats"] - by_others:
            wrong.append(f"seats gone that nobody gave back: {len(unasked)}, such as {sorted(unasked)[:3]}")
        if unasked := gone["sessions"] - told["sessions"]:
            wrong.append(f"sessions gone that nobody called off: {sorted(unasked)[:3]}")
        return wrong

    def _answers(self, journal: Journal) -> list[str]:
        """Each key has one answer in the tables: the one that its client has."""
        kept = {
            (str(person), key): status
            for person, key, status in self.rows(
                "SELECT person_id, key, status_code FROM scheduling_repeatedrequest"
            )
        }
        unlike = [entry for entry in journal.entries if not _same_answer(entry, kept)]
        return [f"answers unlike the ones kept: {len(unlike)}, such as {unlike[0]}"] if unlike else []

    def untold(self) -> list[str]:
        """Where messages and what was done differ: one for each thing that stands, none for what does not."""
        wrong = []
        for subject, messages, done in TOLD:
            told, due = Counter(dict(self.rows(messages))), Counter(dict(self.rows(done)))
            if told != due:
                wrong.append(f"'{subject}' was told {told} and done {due}")
        return wrong

    def undelivered(self, mailed: list[str]) -> list[str]:
        """Every message went out at least once, and nothing went out that does not stand."""
        messages = self.uids("SELECT uid FROM scheduling_message")
        unsent = self.uids("SELECT uid FROM scheduling_message WHERE sent_at IS NULL")
        went = {_plain(uid) for uid in mailed}
        wrong = {
            "messages that wait": unsent,
            "messages that never went out": messages - went,
            "mails of what does not stand": went - messages,
        }
        return [f"{what}: {len(uids)}, such as {sorted(uids)[:3]}" for what, uids in wrong.items() if uids]


def _same_answer(entry: Entry, kept: dict[tuple[str, str], int]) -> bool:
    """What is malformed is refused before its key is kept; every other answer is."""
    return kept.get((entry.asked.person["key"], entry.asked.key)) == entry.status


def _plain(uid: object) -> str:
    return str(uid).replace("-", "")
