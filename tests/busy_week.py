"""A week in which forty pieces of equipment are hardly ever free, straight from rows. Invented values.

Nothing here was found by the engine: it is as much as a sheet can have to draw, put down quickly.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

from scheduling.models import (
    Booking,
    Firing,
    Load,
    Occupancy,
    OccupancyPhase,
    Seat,
    Session,
    SupplyUse,
)
from studios.models import Equipment, EquipmentKind
from tests.worlds import ANNEALER, HOLE, KILN, WARMER, Town, add_equipment, local

DAYS = 7
# How often a day each kind is taken, so that hardly an hour of it is free.
A_DAY = {"furnace": 3, "glory-hole": 3, "torch": 4, "kiln": 1, "annealer": 1, "cold-station": 3}
COLD = (None, None, None, None)
# Shares of an occupancy, and the temperatures between them: (kind, end, from, to, toward, τ in minutes).
Piece = tuple[str, float, float | None, float | None, float | None, float | None]
COURSES: dict[str, tuple[Piece, ...]] = {
    "furnace": (("working", 1.0, 1150.0, 1150.0, None, None),),
    "glory-hole": (
        ("heat-up", 0.2, 30.0, 1100.0, 1400.0, 21.0),
        ("working", 0.6, 1100.0, 1100.0, None, None),
        ("cooling", 0.8, 1100.0, 200.0, 30.0, 48.0),
        ("cooling", 1.0, 200.0, 50.0, 30.0, 60.0),
    ),
    "pipe-warmer": (
        ("heat-up", 0.2, 30.0, 500.0, 900.0, 15.0),
        ("working", 0.6, 500.0, 500.0, None, None),
        ("cooling", 1.0, 500.0, 50.0, 30.0, 18.0),
    ),
    "bench": (("heat-up", 0.2, *COLD), ("working", 0.6, *COLD), ("cooling", 0.7, *COLD)),
    "torch": (("purge", 0.1, *COLD), ("working", 0.9, *COLD), ("cooling", 1.0, *COLD)),
    "cold-station": (
        ("working", 0.1, *COLD),
        ("working", 0.9, *COLD),
        ("working", 1.0, *COLD),
    ),
    "annealer": (
        ("heat-up", 0.1, 30.0, 510.0, 700.0, 120.0),
        ("holding", 0.25, 510.0, 510.0, None, None),
        ("soak", 0.35, 510.0, 510.0, None, None),
        ("annealing", 0.4, 510.0, 470.0, None, None),
        ("cooling", 0.45, 470.0, 420.0, None, None),
        ("cooling", 0.75, 420.0, 50.0, 30.0, 120.0),
        ("waiting", 0.98, 50.0, 50.0, None, None),
        ("unloading", 1.0, 50.0, 50.0, None, None),
    ),
    "kiln": (
        ("loading", 0.03, *COLD),
        ("heat-up", 0.15, 24.0, 518.0, None, None),
        ("heat-up", 0.18, 518.0, 650.0, None, None),
        ("holding", 0.2, 650.0, 650.0, None, None),
        ("heat-up", 0.22, 650.0, 800.0, 1150.0, 72.0),
        ("holding", 0.23, 800.0, 800.0, None, None),
        ("cooling", 0.26, 800.0, 515.0, 24.0, 72.0),
        ("soak", 0.33, 515.0, 515.0, None, None),
        ("annealing", 0.36, 515.0, 480.0, None, None),
        ("cooling", 0.38, 480.0, 430.0, None, None),
        ("cooling", 0.65, 430.0, 50.0, 24.0, 72.0),
        ("waiting", 0.97, 50.0, 50.0, None, None),
        ("unloading", 1.0, 50.0, 50.0, None, None),
    ),
}


@dataclass
class BusyWeek:
    """Rows on their way into the tables; `times` as many bookings a day, each so much shorter."""

    town: Town
    times: int = 1
    days: int = DAYS
    sessions: list[Session] = field(default_factory=list)
    firings: list[Firing] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)
    seats: list[Seat] = field(default_factory=list)
    held: list[Occupancy] = field(default_factory=list)

    def hours(self, kind: str) -> Iterator[tuple[dt.datetime, dt.datetime]]:
        """When a kind of equipment is taken: the day in equal shares, with a breath between them."""
        count = A_DAY[kind] * self.times
        for day in range(self.days):
            share = dt.timedelta(days=1) / count
            for number in range(count):
                begins = local(day, 0).astimezone(dt.UTC) + number * share
                yield begins, begins + share * 0.95

    def take(self, one: Equipment, span: tuple[dt.datetime, dt.datetime], **holder: object) -> None:
        """One occupancy, exclusive as a whole."""
        row = Occupancy(equipment=one, starts_at=span[0], ends_at=span[1], **holder)
        row.exclusive_from, row.exclusive_to = span
        self.held.append(row)

    def classes(self, hole: Equipment, with_it: list[Equipment]) -> None:
        """Classes at a glory hole, each with its bench, pipe warmer and a place at the furnace."""
        people = [self.town.instructor, self.town.other_instructor]
        for number, span in enumerate(self.hours("glory-hole")):
            booking = Booking(studio=hole.studio, booked_by=people[number % 2])
            session = Session(
                booking=booking,
                course=self.town.courses["blowing"],
                studio=hole.studio,
                instructor=people[number % 2],
                starts_at=span[0],
                ends_at=span[1],
                seats=6,
            )
            self.sessions.append(session)
            self.take(self.town.equipment["furnace"], span, place=hole.number, booking=booking)
            for one in (hole, *with_it):
                self.take(one, span, booking=booking)

    def firings_in(self, one: Equipment) -> None:
        """Firings door to door, each with the pieces of one person."""
        for begins, ends in self.hours(one.kind):
            part = (ends - begins) / 4
            firing = Firing(
                equipment=one,
                recipe="anneal" if one.kind == EquipmentKind.ANNEALER else "full-fuse",
                hold_c=510,
                at_hold_at=begins + part,
                last_in_at=begins + part,
                cool_at=begins + 3 * part,
                unload_at=begins + 3.9 * part,
                kept_stress_mpa=0.5,
                energy_kwh=12,
            )
            self.firings.append(firing)
            self.loads.append(
                Load(
                    firing=firing,
                    owner=self.town.student,
                    glass=self.town.glasses["studio-96"],
                    shape="vessel",
                    thickness_mm=6,
                    pieces=4,
                    footprint_cm2=400,
                    in_from=begins,
                    in_until=begins + part,
                )
            )
            self.take(one, (begins, ends), firing=firing)

    def bench_time(self, one: Equipment) -> None:
        """One person after another at a torch, or at a cold station."""
        for begins, ends in self.hours(one.kind):
            booking = Booking(studio=one.studio, booked_by=self.town.student)
            seat = Seat(person=self.town.student, studio=one.studio, booking=booking, torch=one, number=1)
            seat.starts_at, seat.ends_at = begins, ends
            self.seats.append(seat)
            self.take(one, (begins, ends), booking=booking)

    def write(self) -> None:
        """All rows, table by table."""
        Booking.objects.bulk_create(row.booking for row in self.sessions)
        Booking.objects.bulk_create(row.booking for row in self.seats if row.booking)
        Session.objects.bulk_create(self.sessions)
        Seat.objects.bulk_create(self.seats)
        Firing.objects.bulk_create(self.firings)
        Load.objects.bulk_create(self.loads)
        Occupancy.objects.bulk_create(self.held)
        OccupancyPhase.objects.bulk_create(phase for row in self.held for phase in phases(row))
        SupplyUse.objects.bulk_create(use for row in self.held for use in draws(row))


def busy_week(town: Town, times: int = 1, days: int = DAYS) -> int:
    """The town with forty pieces of equipment, all of them taken; how many occupancies that makes."""
    further(town)
    week = BusyWeek(town, times, days)
    every = Equipment.objects.prefetch_related("draws__supply", "companions").select_related("studio")
    for one in every:
        if one.kind == EquipmentKind.GLORY_HOLE:
            week.classes(one, list(one.companions.all()))
        elif one.kind in {EquipmentKind.KILN, EquipmentKind.ANNEALER}:
            week.firings_in(one)
        elif one.kind in {EquipmentKind.TORCH, EquipmentKind.COLD_STATION}:
            week.bench_time(one)
    week.write()
    return len(week.held)


def further(town: Town) -> None:
    """Twenty pieces beside the twenty that the town has."""
    hot, flame = town.hot_shop, town.flame
    Equipment.objects.filter(pk=town.equipment["furnace"].pk).update(places=4)
    for number in (3, 4):
        _station(town, number)
    for studio, kind, numbers, facts in (
        (hot, "annealer", (3, 4), {"body": ANNEALER, "draws": {"shop feeder": 6}}),
        (flame, "annealer", (2, 3), {"body": ANNEALER, "draws": {"kiln feeder": 3}}),
        (flame, "torch", (9, 10, 11, 12), {"draws": {"oxygen": 6}}),
        (flame, "kiln", (2, 3, 4, 5, 6), {"body": KILN, "draws": {"kiln feeder": 5}}),
        (flame, "cold-station", (2,), {}),
    ):
        for number in numbers:
            name = f"{kind} {number} at {studio.name}"
            add_equipment(town, studio, kind, name, number=number, **facts)


def _station(town: Town, number: int) -> None:
    hot = town.hot_shop
    hole = add_equipment(
        town, hot, "glory-hole", f"hole {number}", number=number, body=HOLE, draws={"gas": 60}
    )
    add_equipment(town, hot, "bench", f"bench {number}", number=number, station=hole)
    add_equipment(town, hot, "pipe-warmer", f"warmer {number}", number=number, station=hole, body=WARMER)


def phases(row: Occupancy) -> Iterator[OccupancyPhase]:
    """An occupancy's course by shares of its length, on whole minutes."""
    length, begins = row.ends_at - row.starts_at, row.starts_at
    for kind, share, from_c, to_c, toward_c, tau_min in COURSES[row.equipment.kind]:
        ends = (row.starts_at + length * share).replace(second=0, microsecond=0)
        yield OccupancyPhase(
            occupancy=row,
            kind=kind,
            starts_at=begins,
            ends_at=ends,
            from_c=from_c,
            to_c=to_c,
            toward_c=toward_c,
            tau_min=tau_min,
        )
        begins = ends


def draws(row: Occupancy) -> Iterator[SupplyUse]:
    """What it draws while it heats or works: its full connected draw."""
    for draw in row.equipment.draws.all():
        ends = row.starts_at + (row.ends_at - row.starts_at) * 0.6
        yield SupplyUse(
            supply=draw.supply, occupancy=row, starts_at=row.starts_at, ends_at=ends, amount=draw.amount
        )
