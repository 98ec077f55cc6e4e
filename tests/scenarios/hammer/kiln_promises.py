"""What was promised of kiln jobs, as queries in plain SQL: each finds the rows that break one promise."""

from __future__ import annotations

# The firings of each route, in order.
ROUTES = """
    WITH route(name, step, recipe) AS (VALUES ('fuse', 1, 'full-fuse'), ('fuse-slump', 1, 'full-fuse'),
        ('fuse-slump', 2, 'slump'), ('tack', 1, 'tack-fuse'), ('paint', 1, 'fire-polish'),
        ('cast', 1, 'kiln-cast'))"""
MOULDED = "('slump', 'kiln-cast')"
ADDED = """EXISTS (SELECT 1 FROM scheduling_auditentry n
    WHERE n.subject = j.uid AND n.did = 'add-to-firing')"""

# Every piece that stands somewhere: on which shelf of which kiln, and which mould it lies in there.
STANDING = f"""
    WITH standing AS (
        SELECT st.id, st.piece_id, f.id AS firing, st.level, st.x_mm AS x, st.y_mm AS y,
               st.length_mm AS long, st.width_mm AS wide, st.round, e.shelf_length_mm, e.shelf_width_mm,
               e.shelf_levels, e.shelf_margin_mm AS margin, e.piece_spacing_mm AS apart,
               o.starts_at, o.ends_at, p.size_id,
               CASE WHEN f.recipe IN {MOULDED} THEN s.mould_id END AS mould
        FROM scheduling_stand st JOIN scheduling_load l ON l.id = st.load_id
        JOIN scheduling_firing f ON f.id = l.firing_id AND f.status = 'booked'
        JOIN scheduling_occupancy o ON o.firing_id = f.id
        JOIN studios_equipment e ON e.id = f.equipment_id
        JOIN scheduling_piece p ON p.id = st.piece_id
        LEFT JOIN scheduling_jobsize s ON s.id = p.size_id
        WHERE st.level IS NOT NULL)"""
PAIRS = f"""{STANDING}
    SELECT a.firing, a.level, a.piece_id, b.piece_id FROM standing a JOIN standing b
    ON a.firing = b.firing AND a.level = b.level AND a.id < b.id
    AND NOT (a.mould IS NOT NULL AND b.mould IS NOT NULL AND a.mould = b.mould AND a.x = b.x AND a.y = b.y)"""


def _beyond(centre: str, begin: str, side: str) -> str:
    """Twice the way from a centre to the nearest of a side that begins there; lengths count in half mm."""
    return f"""(CASE WHEN {centre} < 2 * {begin} THEN 2 * {begin} - {centre}
        WHEN {centre} > 2 * ({begin} + {side}) THEN {centre} - 2 * ({begin} + {side}) ELSE 0 END)"""


def _round_beside(one: str, other: str) -> str:
    """A round piece is nearer to one with sides than the room between pieces."""
    along = _beyond(f"(2 * {one}.x + {one}.long)", f"{other}.x", f"{other}.long")
    across = _beyond(f"(2 * {one}.y + {one}.wide)", f"{other}.y", f"{other}.wide")
    reach = f"({one}.long + 2 * {one}.apart)"
    near = f"{along} * {along} + {across} * {across} < {reach} * {reach}"
    return f"({one}.round AND NOT {other}.round AND {near})"


KILN_JOBS: dict[str, str] = {
    "a piece of a kiln job that is booked does not stand once in each firing of its route": f"""{ROUTES}
        SELECT j.id, p.id, route.step FROM scheduling_kilnjob j JOIN route ON route.name = j.route
        JOIN scheduling_piece p ON p.job_id = j.id AND p.state <> 'lost'
        WHERE j.status = 'booked' AND NOT {ADDED} AND 1 <> (
            SELECT count(*) FROM scheduling_stand st JOIN scheduling_load l ON l.id = st.load_id
            JOIN scheduling_firing f ON f.id = l.firing_id
            WHERE st.piece_id = p.id AND l.job_id = j.id AND l.job_step = route.step
            AND f.recipe = route.recipe AND f.status = 'booked')""",
    "a piece that was added to a firing does not stand once in it": f"""
        SELECT j.id, p.id FROM scheduling_kilnjob j
        JOIN scheduling_piece p ON p.job_id = j.id AND p.state <> 'lost'
        WHERE j.status = 'booked' AND {ADDED} AND 1 <> (
            SELECT count(*) FROM scheduling_stand st JOIN scheduling_load l ON l.id = st.load_id
            JOIN scheduling_firing f ON f.id = l.firing_id
            WHERE st.piece_id = p.id AND l.job_id = j.id AND f.status = 'booked')""",
    "a load of a kiln job has other pieces than it says, or another program than its route": f"""{ROUTES}
        SELECT l.id FROM scheduling_load l JOIN scheduling_kilnjob j ON j.id = l.job_id
        JOIN scheduling_firing f ON f.id = l.firing_id
        LEFT JOIN route ON route.name = j.route AND route.step = l.job_step
        WHERE l.pieces <> (SELECT count(*) FROM scheduling_stand st WHERE st.load_id = l.id)
        OR route.name IS NULL OR route.recipe <> f.recipe""",
    "a kiln job that is called off is in a firing to come": """
        SELECT j.id, f.id FROM scheduling_kilnjob j JOIN scheduling_load l ON l.job_id = j.id
        JOIN scheduling_firing f ON f.id = l.firing_id JOIN scheduling_occupancy o ON o.firing_id = f.id
        WHERE j.status = 'cancelled' AND o.starts_at > j.changed_at""",
    "a kiln job that is called off has handwork to come": """
        SELECT j.id, s.id FROM scheduling_kilnjob j JOIN scheduling_jobstep s ON s.job_id = j.id
        WHERE j.status = 'cancelled' AND s.done_at IS NULL AND s.starts_at > j.changed_at""",
    "a kiln job that is only asked for has a firing or handwork": """
        SELECT j.id FROM scheduling_kilnjob j WHERE j.status = 'asked'
        AND (EXISTS (SELECT 1 FROM scheduling_load l WHERE l.job_id = j.id)
             OR EXISTS (SELECT 1 FROM scheduling_jobstep s WHERE s.job_id = j.id))""",
    "a kiln job has other pieces than were asked for": """
        SELECT j.id FROM scheduling_kilnjob j
        WHERE (SELECT count(*) FROM scheduling_piece p WHERE p.job_id = j.id)
           <> (SELECT sum(s.count) FROM scheduling_jobsize s WHERE s.job_id = j.id)""",
    "a piece is elsewhere than its history says": """
        SELECT p.id, p.state FROM scheduling_piece p WHERE p.state <> COALESCE((
            SELECT ev.state FROM scheduling_pieceevent ev WHERE ev.piece_id = p.id
            AND ev.id = (SELECT max(last.id) FROM scheduling_pieceevent last WHERE last.piece_id = p.id)),
            'expected')""",
    "more moulds are in kilns at once than there are": f"""{STANDING},
        used AS (SELECT DISTINCT mould, firing, level, x, y, starts_at, ends_at FROM standing
                 WHERE mould IS NOT NULL)
        SELECT m.id, a.starts_at, count(*)
        FROM (SELECT DISTINCT mould, firing, starts_at FROM used) a
        JOIN used b ON b.mould = a.mould AND b.starts_at <= a.starts_at AND a.starts_at < b.ends_at
        JOIN studios_mould m ON m.id = a.mould
        GROUP BY m.id, m.count, a.firing, a.starts_at HAVING count(*) > m.count""",
    "more pieces lie in a mould than it holds": f"""{STANDING}
        SELECT m.id, st.firing, count(*) FROM standing st JOIN studios_mould m ON m.id = st.mould
        GROUP BY m.id, m.holds, st.firing, st.level, st.x, st.y HAVING count(*) > m.holds""",
    "two pieces with sides stand nearer on a shelf than they may": f"""{PAIRS}
        AND NOT a.round AND NOT b.round
        AND a.x < b.x + b.long + b.apart AND b.x < a.x + a.long + a.apart
        AND a.y < b.y + b.wide + b.apart AND b.y < a.y + a.wide + a.apart""",
    "two round pieces stand nearer on a shelf than they may": f"""{PAIRS}
        AND a.round AND b.round
        AND (2 * a.x + a.long - 2 * b.x - b.long) * (2 * a.x + a.long - 2 * b.x - b.long)
          + (2 * a.y + a.wide - 2 * b.y - b.wide) * (2 * a.y + a.wide - 2 * b.y - b.wide)
          < (a.long + b.long + 2 * a.apart) * (a.long + b.long + 2 * a.apart)""",
    "a round piece stands nearer to another on a shelf than it may": f"""{PAIRS}
        AND ({_round_beside("a", "b")} OR {_round_beside("b", "a")})""",
    "a piece stands over the edge of a shelf, or on one that the kiln has not": f"""{STANDING}
        SELECT id, firing FROM standing WHERE level < 1 OR level > shelf_levels OR x < margin OR y < margin
        OR x + long > shelf_length_mm - margin OR y + wide > shelf_width_mm - margin
        OR mould IS NOT NULL AND level <> 1""",
    "a piece takes another room on its shelf than it has, or its mould": f"""{STANDING}
        SELECT id FROM (
            SELECT st.id, st.long, st.wide, COALESCE(m.length_mm, s.length_mm) AS length,
                   COALESCE(m.width_mm, s.width_mm) AS width
            FROM standing st JOIN scheduling_jobsize s ON s.id = st.size_id
            LEFT JOIN studios_mould m ON m.id = st.mould) lies
        WHERE NOT (long = length AND wide = width OR long = width AND wide = length)""",
    "what was added stands on a shelf that a class keeps": f"""{STANDING}
        SELECT st.id, st.firing FROM standing st JOIN scheduling_firing f ON f.id = st.firing
        WHERE st.level <= f.shelves_kept""",
    "cold work is booked, and its station is not held for it": """
        SELECT s.id FROM scheduling_jobstep s LEFT JOIN scheduling_booking b
        ON b.id = s.booking_id AND b.status = 'booked'
        WHERE s.does = 'cold-work' AND NOT EXISTS (
            SELECT 1 FROM scheduling_occupancy o WHERE o.booking_id = b.id AND o.equipment_id = s.equipment_id
            AND o.exclusive_from <= s.starts_at AND o.exclusive_to >= s.ends_at)""",
    "a piece of a kiln job that is to be worked cold is not, or twice": f"""
        SELECT j.id, p.id FROM scheduling_kilnjob j
        JOIN scheduling_piece p ON p.job_id = j.id AND p.state <> 'lost'
        WHERE j.status = 'booked' AND j.cold_min_each > 0 AND NOT {ADDED} AND 1 <> (
            SELECT count(*) FROM scheduling_jobstep s JOIN scheduling_jobstep_of o ON o.jobstep_id = s.id
            WHERE s.job_id = j.id AND s.does = 'cold-work' AND o.piece_id = p.id)""",
    "handwork is for a load of another kiln job, or on another one's pieces": """
        SELECT s.id FROM scheduling_jobstep s LEFT JOIN scheduling_load l ON l.id = s.load_id
        LEFT JOIN scheduling_jobstep_of o ON o.jobstep_id = s.id
        LEFT JOIN scheduling_piece p ON p.id = o.piece_id
        WHERE l.job_id <> s.job_id OR p.job_id <> s.job_id""",
    "a station is held for cold work that is not booked": """
        SELECT b.id FROM scheduling_booking b JOIN scheduling_occupancy o ON o.booking_id = b.id
        JOIN studios_equipment e ON e.id = o.equipment_id AND e.kind = 'cold-station'
        WHERE b.status = 'booked'
        AND NOT EXISTS (SELECT 1 FROM scheduling_jobstep s WHERE s.booking_id = b.id)
        AND NOT EXISTS (SELECT 1 FROM scheduling_session c WHERE c.booking_id = b.id)""",
    "something was done with a kiln job more than once at a studio": """
        SELECT n.did, n.subject FROM scheduling_auditentry n JOIN scheduling_kilnjob j ON j.uid = n.subject
        WHERE n.did IN ('ask', 'arrive', 'book', 'call-off', 'add-to-firing')
        GROUP BY n.did, n.subject, n.studio_id HAVING count(*) > 1""",
    "an answer has ended with a plan and a refusal, or with neither": """
        SELECT id FROM scheduling_kilnanswer
        WHERE ended_at IS NOT NULL AND (plan IS NULL) = (refusal IS NULL)""",
}

# Which kiln jobs were booked, and how often each person was told of a plan anew.
BOOKED = """
    SELECT DISTINCT j.uid, j.owner_id FROM scheduling_auditentry n
    JOIN scheduling_kilnjob j ON j.uid = n.subject WHERE n.did = 'book'"""
TOLD_ANEW = """
    SELECT p.uid, count(*) FROM scheduling_message m JOIN studios_person p ON p.id = m.person_id
    WHERE m.subject LIKE 'Planned anew: %' GROUP BY 1"""
OWNERS_OF_BOOKED = f"SELECT owner_id, 1 FROM ({BOOKED}) booked"
# Whoever calls a job of somebody else off has them told; it is noted at each of its studios.
OWNERS_OF_CALLED_OFF = """
    SELECT DISTINCT j.owner_id AS who, -j.id AS id FROM scheduling_kilnjob j
    JOIN scheduling_auditentry n ON n.subject = j.uid AND n.did = 'call-off' AND n.actor_id <> j.owner_id"""
