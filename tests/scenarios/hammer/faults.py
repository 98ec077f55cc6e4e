"""For each promise a way to break it: statements that no service and no constraint would let through."""

from __future__ import annotations


def twice(table: str, which: str = "1 = 1") -> str:
    """A row of a table stands there a second time."""
    return (
        f"INSERT INTO {table} SELECT * FROM {table} WHERE {which} LIMIT 1;"
        f"UPDATE {table} SET id = 999999 WHERE rowid = (SELECT max(rowid) FROM {table})"
    )


IN_CLASS = "status = 'booked' AND session_id IS NOT NULL AND torch_id IS NOT NULL"
FIRST_IN_LINE = "(SELECT min(id) FROM scheduling_waitingplace WHERE seat_id IS NOT NULL)"

AT_ONE_CORNER = "UPDATE scheduling_stand SET x_mm = 10, y_mm = 10"

KILN_JOBS: dict[str, str] = {
    "a piece of a kiln job that is booked does not stand once in each firing of its route": (
        "DELETE FROM scheduling_stand"
    ),
    "a piece that was added to a firing does not stand once in it": "DELETE FROM scheduling_stand",
    "a load of a kiln job has other pieces than it says, or another program than its route": (
        "UPDATE scheduling_load SET pieces = 99"
    ),
    "a kiln job that is called off is in a firing to come": (
        "UPDATE scheduling_kilnjob SET status = 'cancelled', changed_at = '2000'"
    ),
    "a kiln job that is called off has handwork to come": (
        "UPDATE scheduling_kilnjob SET status = 'cancelled', changed_at = '2000'"
    ),
    "a kiln job that is only asked for has a firing or handwork": (
        "UPDATE scheduling_kilnjob SET status = 'asked'"
    ),
    "a kiln job has other pieces than were asked for": "DELETE FROM scheduling_piece",
    "a piece is elsewhere than its history says": "UPDATE scheduling_piece SET state = 'ready'",
    "more moulds are in kilns at once than there are": "UPDATE studios_mould SET count = 0",
    "more pieces lie in a mould than it holds": "UPDATE studios_mould SET holds = 1",
    "two pieces with sides stand nearer on a shelf than they may": AT_ONE_CORNER,
    "two round pieces stand nearer on a shelf than they may": AT_ONE_CORNER,
    "a round piece stands nearer to another on a shelf than it may": AT_ONE_CORNER,
    "a piece stands over the edge of a shelf, or on one that the kiln has not": (
        "UPDATE scheduling_stand SET level = 9"
    ),
    "a piece takes another room on its shelf than it has, or its mould": (
        "UPDATE scheduling_stand SET length_mm = 1"
    ),
    "cold work is booked, and its station is not held for it": "DELETE FROM scheduling_occupancy",
    "what was added stands on a shelf that a class keeps": "UPDATE scheduling_firing SET shelves_kept = 2",
    "a piece of a kiln job that is to be worked cold is not, or twice": "DELETE FROM scheduling_jobstep_of",
    "handwork is for a load of another kiln job, or on another one's pieces": (
        "UPDATE scheduling_jobstep SET job_id = 0"
    ),
    "a station is held for cold work that is not booked": "DELETE FROM scheduling_jobstep",
    "something was done with a kiln job more than once at a studio": twice(
        "scheduling_auditentry", "did = 'ask'"
    ),
    "an answer has ended with a plan and a refusal, or with neither": (
        "UPDATE scheduling_kilnanswer SET plan = NULL"
    ),
}

FAULTS: dict[str, str] = {
    "equipment is held twice": twice("scheduling_occupancy"),
    "a person is at two places": twice("scheduling_personspan"),
    "more seats are taken than there are": "UPDATE scheduling_session SET seats = 0",
    "a seat is taken twice": twice("scheduling_seat", IN_CLASS),
    "a torch of a class is taken twice": twice("scheduling_seat", IN_CLASS),
    "somebody sits twice in a class": twice("scheduling_seat", IN_CLASS),
    "a seat stands in a class that is called off": "UPDATE scheduling_session SET status = 'cancelled'",
    "what a class holds is not held while it works": (
        "UPDATE scheduling_occupancy SET exclusive_to = exclusive_from"
    ),
    "a class that stands holds nothing": "DELETE FROM scheduling_occupancy; DELETE FROM scheduling_load",
    "a seat is at a torch that its class or booking does not hold": (
        "UPDATE scheduling_seat SET torch_id = 0 WHERE torch_id IS NOT NULL"
    ),
    "a seat and its class are at different times": "UPDATE scheduling_session SET ends_at = starts_at",
    "a booked seat has no time of its person, or one that is none has": (
        "DELETE FROM scheduling_personspan WHERE seat_id IS NOT NULL"
    ),
    "a class that stands has nobody's time": (
        "DELETE FROM scheduling_personspan WHERE session_id IS NOT NULL"
    ),
    "somebody teaches a class for less time than it takes": (
        "UPDATE scheduling_personspan SET ends_at = starts_at"
    ),
    "a weekly class has a meeting that is no meeting of it": "UPDATE scheduling_series SET course_id = 0",
    "a booking that is called off holds something": "UPDATE scheduling_booking SET status = 'cancelled'",
    "a firing ends before one of its loads is in": "UPDATE scheduling_firing SET last_in_at = '2000'",
    "pieces lie in a firing at an hour in which their class was not": (
        "UPDATE scheduling_load SET in_from = '2000'"
    ),
    "a firing is open or empty, and nobody recorded it, or is not and somebody did": (
        "UPDATE scheduling_firing SET opened_at = unload_at, unloaded_at = unload_at"
    ),
    "what was recorded of a firing is not what was noted": "DELETE FROM scheduling_actual",
    "a firing holds its oven for less time than it burns": (
        "UPDATE scheduling_occupancy SET ends_at = starts_at"
    ),
    "a firing without a load lives, or one that is called off holds something": (
        "DELETE FROM scheduling_load"
    ),
    "more lies in an oven than it has room for": "UPDATE studios_equipment SET capacity_cm2 = 1",
    "a supply gives more than it has": 'UPDATE studios_supply SET "limit" = 1',
    "somebody stands twice in a line": twice("scheduling_waitingplace", "status = 'waiting'"),
    "somebody waits for a class that is called off, or in which they sit": (
        "UPDATE scheduling_session SET status = 'cancelled'"
    ),
    "somebody is said to have taken an offer, and reserved nothing": (
        "DELETE FROM scheduling_auditentry WHERE did = 'reserve'"
    ),
    "a line is not in the order of joining": "UPDATE scheduling_waitingplace SET joined_at = -id",
    "somebody who came later was offered a seat before who waits and had no other plans": (
        "UPDATE scheduling_waitingplace SET status = 'waiting', person_id = 0 WHERE id = " + FIRST_IN_LINE
    ),
    "an offer has no kept seat of its person": "UPDATE scheduling_seat SET status = 'booked'",
    "what was done stands in the book more than once": twice("scheduling_auditentry", "did = 'reserve'"),
    **KILN_JOBS,
    "a request is still under way": "UPDATE scheduling_repeatedrequest SET status_code = NULL",
    "a message waits": "UPDATE scheduling_message SET sent_at = NULL",
    "a seat that was kept and never booked has not lapsed": "UPDATE scheduling_seat SET status = 'kept'",
    "somebody with time for it waits beside an empty seat": "UPDATE scheduling_session SET seats = 9",
}
