"""Revisions: the database counts, in the transaction that writes, what the engine reads.

A process keeps what it has loaded as long as the counts stand (`scheduling.kept`). They are raised by
triggers and not by the services, so that nothing can be written past them.
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


@dataclass(frozen=True, kw_only=True)
class Counted:
    """A table whose rows raise a count; `key` is SQL, in which {row} is the row that changes."""

    table: str
    what: Revised
    key: str

    @property
    def name(self) -> str:
        """What its trigger is called."""
        return f"lehrbook_revised_by_{self.table}"

    def raised_by(self, row: str) -> str:
        """The statement that raises the count for a row."""
        # Every name comes from COUNTED below, none from outside.
        return (
            "INSERT INTO scheduling_revision (kind, key, number) "  # noqa: S608
            f"SELECT '{self.what}', found.key, 1 FROM (SELECT {self.key.format(row=row)} AS key) AS found "
            "WHERE found.key IS NOT NULL "
            "ON CONFLICT (kind, key) DO UPDATE SET number = scheduling_revision.number + 1;"
        )


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
    *(Counted(table=table, what=Revised.SET_UP, key="0") for table in SET_UP),
    Counted(table="scheduling_occupancy", what=Revised.EQUIPMENT, key="{row}.equipment_id"),
    Counted(table="scheduling_outage", what=Revised.EQUIPMENT, key="{row}.equipment_id"),
    Counted(table="scheduling_firing", what=Revised.EQUIPMENT, key="{row}.equipment_id"),
    Counted(
        table="scheduling_load",
        what=Revised.EQUIPMENT,
        key="(SELECT equipment_id FROM scheduling_firing WHERE id = {row}.firing_id)",
    ),
    Counted(
        table="scheduling_supplyuse",
        what=Revised.EQUIPMENT,
        key="(SELECT equipment_id FROM scheduling_occupancy WHERE id = {row}.occupancy_id)",
    ),
    Counted(table="scheduling_refill", what=Revised.REFILLS, key="{row}.supply_id"),
    Counted(table="scheduling_charge", what=Revised.CHARGES, key="{row}.furnace_id"),
)
ROWS = {"INSERT": ("NEW",), "UPDATE": ("NEW", "OLD"), "DELETE": ("OLD",)}


def names() -> Iterator[str]:
    """The triggers that there must be."""
    for counted in COUNTED:
        if connection.vendor == "sqlite":
            yield from (f"{counted.name}_on_{event.lower()}" for event in ROWS)
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
    for event, rows in ROWS.items():
        name = f"{counted.name}_on_{event.lower()}"
        raised = " ".join(counted.raised_by(row) for row in rows)
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield f"CREATE TRIGGER {name} AFTER {event} ON {counted.table} FOR EACH ROW BEGIN {raised} END"


def _postgresql(counted: Counted) -> Iterator[str]:
    new, old = (counted.raised_by(row) for row in ("NEW", "OLD"))
    yield (
        f"CREATE OR REPLACE FUNCTION {counted.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF TG_OP <> 'DELETE' THEN {new} END IF; IF TG_OP <> 'INSERT' THEN {old} END IF; "
        "RETURN NULL; END $$"
    )
    yield f"DROP TRIGGER IF EXISTS {counted.name} ON {counted.table}"
    yield (
        f"CREATE TRIGGER {counted.name} AFTER INSERT OR UPDATE OR DELETE ON {counted.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {counted.name}()"
    )
