"""What was promised, as queries in plain SQL: each finds the rows that break one promise.

A book that keeps them all gives no row. Nothing here knows a line of the project.
"""

from __future__ import annotations

from tests.scenarios.hammer.kiln_promises import KILN_JOBS, OWNERS_OF_BOOKED, OWNERS_OF_CALLED_OFF

TAKEN = "status IN ('kept', 'booked')"
# What is true at every moment.
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
    "what a class holds is not held while it works": """
        SELECT s.id, o.id FROM scheduling_session s
        JOIN scheduling_occupancy o ON o.booking_id = s.booking_id
        WHERE s.status = 'booked' AND (o.exclusive_from > s.starts_at OR o.exclusive_to < s.ends_at)""",
    "a class that stands holds nothing": """
        SELECT s.id FROM scheduling_session s
        WHERE s.status = 'booked'
        AND NOT EXISTS (SELECT 1 FROM scheduling_occupancy o WHERE o.booking_id = s.booking_id)
        AND NOT EXISTS (SELECT 1 FROM scheduling_load l WHERE l.session_id = s.id)""",
    "a seat is at a torch that its class or booking does not hold": f"""
        SELECT seat.id FROM scheduling_seat seat
        LEFT JOIN scheduling_session s ON s.id = seat.session_id
        WHERE seat.{TAKEN} AND seat.torch_id IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM scheduling_occupancy o WHERE o.equipment_id = seat.torch_id
            AND o.booking_id = COALESCE(s.booking_id, seat.booking_id)
            AND o.exclusive_from <= seat.starts_at AND o.exclusive_to >= seat.ends_at)""",
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
    "somebody teaches a class for less time than it takes": """
        SELECT s.id FROM scheduling_session s JOIN scheduling_personspan span ON span.session_id = s.id
        WHERE span.starts_at > s.starts_at OR span.ends_at < s.ends_at""",
    "a weekly class has a meeting that is no meeting of it": """
        SELECT s.id FROM scheduling_session s JOIN scheduling_series w ON w.id = s.series_id
        WHERE s.course_id <> w.course_id OR s.studio_id <> w.studio_id
        OR s.instructor_id <> w.instructor_id""",
    "a booking that is called off holds something": """
        SELECT b.id FROM scheduling_booking b JOIN scheduling_occupancy o ON o.booking_id = b.id
        WHERE b.status = 'cancelled'""",
    "a firing ends before one of its loads is in": """
        SELECT f.id FROM scheduling_firing f JOIN scheduling_load l ON l.firing_id = f.id
        WHERE f.status = 'booked' AND (l.in_until > f.last_in_at OR f.unload_at < l.in_until)""",
    "pieces lie in a firing at an hour in which their class was not": """
        SELECT l.id FROM scheduling_load l JOIN scheduling_firing f ON f.id = l.firing_id
        JOIN scheduling_session s ON s.id = l.session_id
        WHERE (f.recipe = 'anneal' AND (l.in_from <> s.starts_at OR l.in_until <> s.ends_at)
               OR f.recipe <> 'anneal' AND l.in_from < s.ends_at)
        AND NOT EXISTS (SELECT 1 FROM scheduling_actual a WHERE a.firing_id = f.id)""",
    "a firing is open or empty, and nobody recorded it, or is not and somebody did": """
        SELECT f.id FROM scheduling_firing f
        WHERE (f.unloaded_at IS NOT NULL) <> EXISTS (SELECT 1 FROM scheduling_actual a
            WHERE a.firing_id = f.id AND a.kind = 'unloaded' AND a.struck_at IS NULL)
        OR EXISTS (SELECT 1 FROM scheduling_actual a
            WHERE a.firing_id = f.id AND a.kind = 'opened' AND a.struck_at IS NULL AND f.opened_at IS NULL)
        OR f.opened_at IS NOT NULL AND NOT EXISTS (SELECT 1 FROM scheduling_actual a
            WHERE a.firing_id = f.id AND a.kind IN ('opened', 'unloaded') AND a.struck_at IS NULL)""",
    "what was recorded of a firing is not what was noted": """
        SELECT f.id FROM scheduling_firing f
        WHERE (SELECT count(*) FROM scheduling_actual a WHERE a.firing_id = f.id)
           <> (SELECT count(*) FROM scheduling_auditentry n WHERE n.subject = f.uid AND n.did = 'record')
        OR (SELECT count(*) FROM scheduling_actual a WHERE a.firing_id = f.id AND a.struck_at IS NOT NULL)
           <> (SELECT count(*) FROM scheduling_auditentry n WHERE n.subject = f.uid AND n.did = 'strike')""",
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
    "somebody waits for a class that is called off, or in which they sit": """
        SELECT w.id FROM scheduling_waitingplace w JOIN scheduling_session s ON s.id = w.session_id
        WHERE w.status IN ('waiting', 'offered') AND (s.status = 'cancelled' OR EXISTS (
            SELECT 1 FROM scheduling_seat seat WHERE seat.session_id = s.id
            AND seat.person_id = w.person_id AND seat.status = 'booked'))""",
    "somebody is said to have taken an offer, and reserved nothing": """
        SELECT w.id FROM scheduling_waitingplace w WHERE w.status = 'taken' AND NOT EXISTS (
            SELECT 1 FROM scheduling_seat seat JOIN scheduling_auditentry a
            ON a.subject = seat.uid AND a.did = 'reserve'
            WHERE seat.session_id = w.session_id AND seat.person_id = w.person_id)""",
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
    "what was done stands in the book more than once": """
        SELECT did, subject FROM scheduling_auditentry
        WHERE did IN ('reserve', 'book', 'call-off', 'give-back', 'keep', 'keep-longer', 'let-go', 'lapse',
                      'lose-seat', 'offer', 'join-line', 'leave-line', 'enter-outage')
        AND subject NOT IN (SELECT uid FROM scheduling_kilnjob)
        GROUP BY did, subject HAVING count(*) > 1""",
    **KILN_JOBS,
}

# What is true as soon as everything that goes on by itself has gone on.
WAITING: dict[str, str] = {
    "a request is still under way": """
        SELECT id, key FROM scheduling_repeatedrequest WHERE status_code IS NULL""",
    "a message waits": "SELECT id, subject FROM scheduling_message WHERE sent_at IS NULL",
    "a seat that was kept and never booked has not lapsed": """
        SELECT seat.id, seat.kept_until FROM scheduling_seat seat WHERE seat.status = 'kept'
        AND NOT EXISTS (SELECT 1 FROM scheduling_waitingplace w WHERE w.seat_id = seat.id)""",
    "somebody with time for it waits beside an empty seat": f"""
        SELECT w.id, s.id FROM scheduling_waitingplace w JOIN scheduling_session s ON s.id = w.session_id
        WHERE w.status = 'waiting' AND s.status = 'booked'
        AND s.seats > (SELECT count(*) FROM scheduling_seat seat
                       WHERE seat.session_id = s.id AND seat.{TAKEN})
        AND NOT EXISTS (SELECT 1 FROM scheduling_seat seat
                        WHERE seat.session_id = s.id AND seat.person_id = w.person_id AND seat.{TAKEN})
        AND NOT EXISTS (SELECT 1 FROM scheduling_personspan p WHERE p.person_id = w.person_id AND (
            p.studio_id <> s.studio_id OR p.starts_at < s.ends_at AND s.starts_at < p.ends_at))
        AND NOT EXISTS (SELECT 1 FROM scheduling_outage o JOIN studios_equipment e
            ON e.id = o.equipment_id AND e.kind = 'torch'
            WHERE o.starts_at < s.ends_at AND s.starts_at < o.ends_at)""",
}


def _noted(did: str, person: str, joins: str = "") -> str:
    """How often something was done that somebody is told of, by person."""
    return f"SELECT {person}, count(*) FROM scheduling_auditentry a {joins} WHERE a.did = '{did}' GROUP BY 1"


def _said(pattern: str, column: str = "subject") -> str:
    """How many messages of a kind each person has."""
    return f"SELECT person_id, count(*) FROM scheduling_message WHERE {column} LIKE '{pattern}' GROUP BY 1"


SEAT = "JOIN scheduling_seat s ON s.uid = a.subject"
SESSION = "JOIN scheduling_session s ON s.uid = a.subject"
# What is told, how many messages of it each person has, and how many were due to each.
TOLD: dict[str, tuple[str, str]] = {
    "reserved": (_said("Reserved: %"), _noted("reserve", "s.person_id", SEAT)),
    "booked": (
        _said("Booked: %"),
        f"""
        SELECT who, sum(times) FROM (
            SELECT s.instructor_id AS who, 1 AS times FROM scheduling_auditentry a
            JOIN scheduling_session s ON s.uid = a.subject AND s.series_id IS NULL WHERE a.did = 'book'
            UNION ALL SELECT instructor_id, 1 FROM scheduling_series
            UNION ALL {OWNERS_OF_BOOKED}) due
        GROUP BY who""",
    ),
    "offered": (_said("A seat is free: %"), _noted("offer", "s.person_id", SEAT)),
    "lapsed": (
        _said("The offer has lapsed: %"),
        _noted("lapse", "s.person_id", f"{SEAT} JOIN scheduling_waitingplace w ON w.seat_id = s.id"),
    ),
    "moved": (
        """
        SELECT person_id, count(*) FROM scheduling_message
        WHERE (subject LIKE 'Moved: %' OR subject LIKE 'Changed: %')
        AND person_id IN (SELECT instructor_id FROM scheduling_session) GROUP BY 1""",
        _noted("move", "s.instructor_id", SESSION),
    ),
    "a seat was lost": (
        _said("%Your seat in it is free again: %", "body"),
        _noted("lose-seat", "s.person_id", SEAT),
    ),
    "called off": (
        """
        SELECT person_id, count(*) FROM scheduling_message WHERE subject LIKE 'Called off: %'
        AND person_id NOT IN (SELECT instructor_id FROM scheduling_session) GROUP BY 1""",
        f"""
        SELECT who, count(*) FROM (
            SELECT seat.person_id AS who, s.id FROM scheduling_seat seat
            JOIN scheduling_session s ON s.id = seat.session_id
            WHERE s.status = 'cancelled' AND NOT EXISTS (
                SELECT 1 FROM scheduling_auditentry a WHERE a.subject = seat.uid
                AND a.did IN ('give-back', 'let-go', 'lapse', 'lose-seat'))
            UNION SELECT w.person_id, s.id FROM scheduling_waitingplace w
            JOIN scheduling_session s ON s.id = w.session_id
            WHERE s.status = 'cancelled' AND w.status = 'left' AND w.seat_id IS NULL AND NOT EXISTS (
                SELECT 1 FROM scheduling_auditentry a WHERE a.subject = w.uid AND a.did = 'leave-line')
            UNION {OWNERS_OF_CALLED_OFF}) due
        GROUP BY who""",
    ),
    "damaged": (
        _said("Damaged: %"),
        """
        SELECT COALESCE(p.maker_id, j.owner_id), count(*) FROM scheduling_auditentry a
        JOIN scheduling_piece p ON p.uid = a.subject JOIN scheduling_kilnjob j ON j.id = p.job_id
        WHERE a.did IN ('damage', 'lost') GROUP BY 1""",
    ),
}
