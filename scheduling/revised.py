"""Revisions: the database counts, in the transaction that writes, what is read again and again.

A process keeps what it has loaded as long as the counts stand (`scheduling.kept`), and a calendar is written
anew only when they do not (`scheduling.feeds`). They are raised by triggers and not by the services, so that
nothing can be written past them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from django.db import connection


class Revised(StrEnum):
    """What is counted by itself, and by which key."""

    SET_UP = "set-up"  # studios, hours, equipment, records, supplies, courses: one count for all
    EQUIPMENT = "equipment"  # what is taken there, by equipment
    REFILLS = "refills"  # by supply
    CHARGES = "charges"  # by furnace
    UNHELD = "unheld"  # classes and handwork that hold no equipment, by studio
    CALENDAR = "calendar"  # what a person's own calendar shows, by person
    NAMES = "names"  # what people are called: one count for all


SUFFIXES = {
    Revised.CALENDAR: "_for_calendars",
    Revised.NAMES: "_for_names",
    Revised.UNHELD: "_for_studios",
}


@dataclass(frozen=True, kw_only=True)
class Counted:
    """A table whose rows raise counts; `keys` is SQL that selects them, {row} in it the row that changes.

    Where `columns` are named, only a change in one of these counts, and no row that comes or goes.
    """

    table: str
    what: Revised
    keys: str
    columns: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What its trigger is called; a table that is read for a calendar, too, has more than one."""
        return f"lehrbook_revised_by_{self.table}{SUFFIXES.get(self.what, '')}"

    @property
    def events(self) -> dict[str, str]:
        """What raises the counts, each as a trigger says it."""
        if self.columns:
            return {"UPDATE": f"UPDATE OF {', '.join(self.columns)}"}
        return {event: event for event in ROWS}

    def raised_by(self, row: str) -> str:
        """The statement that raises the counts for a row, always in the same order."""
        # Every name comes from COUNTED below, none from outside.
        return (
            "INSERT INTO scheduling_revision (kind, key, number) "  # noqa: S608
            f"SELECT '{self.what}', found.key, 1 FROM ({self.keys.format(row=row)}) AS found "
            "WHERE found.key IS NOT NULL GROUP BY found.key ORDER BY found.key "
            "ON CONFLICT (kind, key) DO UPDATE SET number = scheduling_revision.number + 1;"
        )


def _one(key: str) -> str:
    return f"SELECT {key} AS key"


def _whose_pieces(loads: str) -> str:
    """Whose pieces some loads are: who owns them, teaches their class, or sits in it."""
    return (
        f"SELECT owner_id AS key FROM ({loads}) AS own "  # noqa: S608
        f"UNION SELECT instructor_id FROM ({loads}) AS taught "
        "JOIN scheduling_session ON scheduling_session.id = taught.session_id "
        f"UNION SELECT person_id FROM ({loads}) AS sat "
        "JOIN scheduling_seat ON scheduling_seat.session_id = sat.session_id "
        "WHERE scheduling_seat.status = 'booked'"
    )


def _in_firing(firing: str) -> str:
    return _whose_pieces(f"SELECT owner_id, session_id FROM scheduling_load WHERE firing_id = {firing}")  # noqa: S608


AT_SESSION = (
    "SELECT {row}.instructor_id AS key "
    "UNION SELECT person_id FROM scheduling_session_assistants WHERE session_id = {row}.id "
    "UNION SELECT person_id FROM scheduling_seat WHERE session_id = {row}.id"
)

# Who has a piece in a kiln job sees when all of it is ready.
OF_JOB = "SELECT {row}.owner_id AS key UNION SELECT maker_id FROM scheduling_piece WHERE job_id = {row}.id"


SET_UP = (
    "studios_studio",
    "studios_staffedhours",
    "studios_closure",
    "studios_travel",
    "studios_equipment",
    "studios_thermalrecord",
    "studios_supply",
    "studios_draw",
    "studios_season",
    "studios_ownprocess",
    "studios_glasstype",
    "studios_pot",
    "scheduling_course",
)
COUNTED = (
    *(Counted(table=table, what=Revised.SET_UP, keys=_one("0")) for table in SET_UP),
    Counted(table="scheduling_occupancy", what=Revised.EQUIPMENT, keys=_one("{row}.equipment_id")),
    Counted(table="scheduling_outage", what=Revised.EQUIPMENT, keys=_one("{row}.equipment_id")),
    Counted(table="scheduling_firing", what=Revised.EQUIPMENT, keys=_one("{row}.equipment_id")),
    Counted(
        table="scheduling_load",
        what=Revised.EQUIPMENT,
        keys="SELECT equipment_id AS key FROM scheduling_firing WHERE id = {row}.firing_id",
    ),
    Counted(
        table="scheduling_supplyuse",
        what=Revised.EQUIPMENT,
        keys="SELECT equipment_id AS key FROM scheduling_occupancy WHERE id = {row}.occupancy_id",
    ),
    Counted(table="scheduling_refill", what=Revised.REFILLS, keys=_one("{row}.supply_id")),
    Counted(table="scheduling_charge", what=Revised.CHARGES, keys=_one("{row}.furnace_id")),
    # Bench time that was kept for somebody and is booked now holds the same torch as before.
    Counted(
        table="scheduling_seat",
        what=Revised.EQUIPMENT,
        keys="SELECT {row}.torch_id AS key WHERE {row}.session_id IS NULL",
    ),
    # What any class would raise, many who book at one studio would wait for, each for the one before.
    Counted(
        table="scheduling_session",
        what=Revised.UNHELD,
        keys="SELECT {row}.studio_id AS key WHERE NOT EXISTS "
        "(SELECT 1 FROM scheduling_courseneed WHERE course_id = {row}.course_id)",
    ),
    Counted(table="scheduling_jobstep", what=Revised.UNHELD, keys=_one("{row}.studio_id")),
    Counted(table="studios_person", what=Revised.NAMES, keys=_one("0"), columns=("name",)),
    # A sign-in is written there, too, and is in no calendar.
    Counted(
        table="studios_person",
        what=Revised.CALENDAR,
        keys=_one("{row}.id"),
        columns=("name", "is_active", "is_superuser"),
    ),
    Counted(table="studios_membership", what=Revised.CALENDAR, keys=_one("{row}.person_id")),
    Counted(table="scheduling_session", what=Revised.CALENDAR, keys=AT_SESSION),
    Counted(table="scheduling_session_assistants", what=Revised.CALENDAR, keys=_one("{row}.person_id")),
    Counted(table="scheduling_seat", what=Revised.CALENDAR, keys=_one("{row}.person_id")),
    Counted(
        table="scheduling_load",
        what=Revised.CALENDAR,
        keys=_whose_pieces("SELECT {row}.owner_id AS owner_id, {row}.session_id AS session_id"),
    ),
    Counted(table="scheduling_kilnjob", what=Revised.CALENDAR, keys=OF_JOB),
    Counted(table="scheduling_firing", what=Revised.CALENDAR, keys=_in_firing("{row}.id")),
    Counted(table="scheduling_occupancy", what=Revised.CALENDAR, keys=_in_firing("{row}.firing_id")),
)
ROWS = {"INSERT": ("NEW",), "UPDATE": ("NEW", "OLD"), "DELETE": ("OLD",)}


# What a calendar is made of: its reader's own, what is taken of a studio or of one piece of equipment, the
# classes there that take none, the set-up, and what people are called. How often the set-up has changed
# counts above all else, so that no sum comes out twice when equipment moves to another studio and takes its
# count along.
SET_UP_WEIGHS = 2**32
_ONE = "COALESCE((SELECT number FROM scheduling_revision WHERE kind = '{kind}' AND key = {key}), 0)"
_ALL_OF_A_STUDIO = (
    "COALESCE((SELECT SUM(counted.number) FROM studios_equipment AS one "  # noqa: S608
    f"JOIN scheduling_revision AS counted ON counted.key = one.id AND counted.kind = '{Revised.EQUIPMENT}' "
    "WHERE one.studio_id = {studio}), 0)"
)
_OF_A_CALENDAR = " + ".join(
    (
        f"{SET_UP_WEIGHS} * {_ONE.format(kind=Revised.SET_UP, key=0)}",
        _ONE.format(kind=Revised.NAMES, key=0),
        _ONE.format(kind=Revised.CALENDAR, key="{person}"),
        _ONE.format(kind=Revised.EQUIPMENT, key="{equipment}"),
        _ONE.format(kind=Revised.UNHELD, key="{studio}"),
        _ALL_OF_A_STUDIO,
    )
)
FUNCTION = "lehrbook_revised_for_calendars"


def of_a_calendar(*, person: str, studio: str, equipment: str) -> str:
    """SQL for how often a calendar may have changed by now; the arguments are the columns that say whose.

    PostgreSQL plans a function once for each connection: to plan the sum takes it longer than to answer it.
    """
    if connection.vendor == "sqlite":
        found = _OF_A_CALENDAR.format(person=person, studio=studio, equipment=equipment)
        return f"CAST({found} AS bigint)"
    return f"{FUNCTION}({person}, {studio}, {equipment})"


def functions() -> Iterator[str]:
    """The statements that put in place what `of_a_calendar` calls."""
    if connection.vendor != "sqlite":
        found = _OF_A_CALENDAR.format(person="of_person", studio="of_studio", equipment="of_equipment")
        yield (
            f"CREATE OR REPLACE FUNCTION {FUNCTION}(of_person bigint, of_studio bigint, of_equipment bigint) "
            f"RETURNS bigint LANGUAGE plpgsql STABLE AS $$ BEGIN RETURN {found}; END $$"
        )


def names() -> Iterator[str]:
    """The triggers that there must be, and the function."""
    if connection.vendor != "sqlite":
        yield FUNCTION
    for counted in COUNTED:
        if connection.vendor == "sqlite":
            yield from (f"{counted.name}_on_{event.lower()}" for event in counted.events)
        else:
            yield counted.name


def statements(counted: Counted) -> Iterator[str]:
    """The statements that put the triggers of a table in place."""
    yield from _sqlite(counted) if connection.vendor == "sqlite" else _postgresql(counted)


def removals() -> list[str]:
    """The statements that take all triggers away, for who writes everything anew and counts it at the end."""
    if connection.vendor == "sqlite":
        return [f"DROP TRIGGER IF EXISTS {name}" for name in names()]
    return [f"DROP TRIGGER IF EXISTS {counted.name} ON {counted.table}" for counted in COUNTED]


def _sqlite(counted: Counted) -> Iterator[str]:
    for event, said in counted.events.items():
        name = f"{counted.name}_on_{event.lower()}"
        raised = " ".join(counted.raised_by(row) for row in ROWS[event])
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield f"CREATE TRIGGER {name} AFTER {said} ON {counted.table} FOR EACH ROW BEGIN {raised} END"


def _postgresql(counted: Counted) -> Iterator[str]:
    new, old = (counted.raised_by(row) for row in ("NEW", "OLD"))
    yield (
        f"CREATE OR REPLACE FUNCTION {counted.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF TG_OP <> 'DELETE' THEN {new} END IF; IF TG_OP <> 'INSERT' THEN {old} END IF; "
        "RETURN NULL; END $$"
    )
    yield f"DROP TRIGGER IF EXISTS {counted.name} ON {counted.table}"
    yield (
        f"CREATE TRIGGER {counted.name} AFTER {' OR '.join(counted.events.values())} ON {counted.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {counted.name}()"
    )
