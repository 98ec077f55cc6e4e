"""A small town for tests: a hot shop and a flame studio with everything a class needs. Invented values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from scheduling.models import Course, CourseNeed
from studios.models import (
    BenchHours,
    Draw,
    Equipment,
    GlassType,
    Membership,
    Person,
    Qualification,
    StaffedHours,
    Studio,
    Supply,
    ThermalRecord,
    Travel,
)

ZONE = ZoneInfo("America/Chicago")
FIRST_MONDAY = dt.date(2031, 3, 3)  # the clocks change on Sunday 9 March 2031


def local(day: int, hour: int, minute: int = 0, zone: ZoneInfo = ZONE) -> dt.datetime:
    """A wall time in the test town: day 0 is the first Monday."""
    date = FIRST_MONDAY + dt.timedelta(days=day)
    return dt.datetime.combine(date, dt.time(hour, minute), zone)


PEOPLE = (
    "instructor",
    "other_instructor",
    "student",
    "other_student",
    "technician",
    "manager",
    "stranger",
)


@dataclass
class Town:
    """The rows that tests reach for by name."""

    hot_shop: Studio
    flame: Studio
    people: dict[str, Person]
    glasses: dict[str, GlassType] = field(default_factory=dict)
    equipment: dict[str, Equipment] = field(default_factory=dict)
    supplies: dict[str, Supply] = field(default_factory=dict)
    courses: dict[str, Course] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Person:
        """The people of the town by what they are: `town.student`."""
        if name in PEOPLE:
            return self.people[name]
        raise AttributeError(name)

    @property
    def torches(self) -> list[Equipment]:
        return [self.equipment[f"torch {number}"] for number in range(1, 9)]


def build_town() -> Town:
    """Two studios half an hour apart, staffed from 08:00 to 23:00 on every day."""
    people = {name: _person(name) for name in PEOPLE}
    town = Town(hot_shop=_studio("Hot shop", "hot-shop"), flame=_studio("Flame", "flame"), people=people)
    Travel.objects.create(origin=town.hot_shop, destination=town.flame, minutes=30)
    Travel.objects.create(origin=town.flame, destination=town.hot_shop, minutes=30)
    _roles(town)
    town.glasses.update(_glasses())
    _hot_shop(town)
    _flame(town)
    _courses(town)
    return town


def _studio(name: str, slug: str) -> Studio:
    studio = Studio.objects.create(name=name, slug=slug, time_zone=ZONE.key, notice_min=60)
    for weekday in range(7):
        StaffedHours.objects.create(studio=studio, weekday=weekday, opens=dt.time(8), closes=dt.time(23))
    return studio


def _person(name: str) -> Person:
    return Person.objects.create_user(f"{name.replace('_', '.')}@town.example", "glass", name=name.title())


def _roles(town: Town) -> None:
    roles = {
        "instructor": (town.instructor, town.other_instructor),
        "student": (town.student, town.other_student),
        "technician": (town.technician,),
        "manager": (town.manager,),
    }
    for studio in (town.hot_shop, town.flame):
        for role, people in roles.items():
            for person in people:
                Membership.objects.create(person=person, studio=studio, role=role)
        for person in roles["instructor"]:
            sign_off(person, studio, ("furnace", "glory-hole", "torch", "kiln", "annealer", "cold-station"))
    for person in (*roles["student"], *roles["technician"]):
        sign_off(person, town.flame, ["torch"])


def sign_off(person: Person, studio: Studio, kinds: Iterable[str]) -> None:
    """The studio signs a person off for kinds of its equipment."""
    for kind in kinds:
        Qualification.objects.create(person=person, studio=studio, kind=kind)


def _glasses() -> dict[str, GlassType]:
    common = {
        "youngs_gpa": 70,
        "poisson": 0.22,
        "conductivity_w_per_m_k": 1.4,
        "density_kg_per_m3": 2500,
        "heat_capacity_j_per_kg_k": 1170,
        "source": "invented for tests",
    }
    return {
        name: GlassType.objects.create(
            name=name,
            slug=name,
            expansion_1e7_per_k=expansion,
            strain_c=strain,
            annealing_c=annealing,
            softening_c=softening,
            **common,
        )
        for name, expansion, strain, annealing, softening in (
            ("studio-96", 96, 475, 510, 690),
            ("fusing-90", 90, 480, 516, 680),
            ("soft-104", 104, 460, 507, 650),
            ("boro-33", 33, 512, 560, 822),
        )
    }


def add_equipment(town: Town, studio: Studio, kind: str, name: str, **facts: Any) -> Equipment:
    """One piece of equipment; `body` makes its thermal record, `draws` names supplies and amounts."""
    body, draws = facts.pop("body", None), facts.pop("draws", {})
    row = Equipment.objects.create(studio=studio, kind=kind, name=name, **facts)
    if body is not None:
        ThermalRecord.objects.create(equipment=row, source="invented for tests", **body)
    for supply, amount in draws.items():
        Draw.objects.create(equipment=row, supply=town.supplies[supply], amount=amount)
    town.equipment[name] = row
    return row


def add_supply(town: Town, studio: Studio, kind: str, name: str, limit: float) -> Supply:
    """A shared supply with its greatest rate."""
    town.supplies[name] = Supply.objects.create(studio=studio, kind=kind, name=name, limit=limit)
    return town.supplies[name]


ANNEALER = {"tau_h": 4.0, "ceiling_c": 700.0, "power_kw": 6.0, "ambient_c": 30.0}
KILN = {"tau_h": 2.8, "ceiling_c": 1150.0, "power_kw": 5.0, "ambient_c": 22.0}
HOLE = {"tau_h": 0.8, "ceiling_c": 1400.0, "power_kw": 60.0, "ambient_c": 30.0}
WARMER = {"tau_h": 0.3, "ceiling_c": 900.0, "power_kw": 8.0, "ambient_c": 30.0}


def _hot_shop(town: Town) -> None:
    studio = town.hot_shop
    add_supply(town, studio, "fuel-gas", "gas", 200)
    add_supply(town, studio, "electricity", "shop feeder", 20)
    add_equipment(town, studio, "furnace", "furnace", places=3, working_c=1150)
    for number in (1, 2):
        hole = add_equipment(
            town,
            studio,
            "glory-hole",
            f"hole {number}",
            number=number,
            gas_fired=True,
            working_c=1100,
            body=HOLE,
            draws={"gas": 60},
        )
        add_equipment(town, studio, "bench", f"bench {number}", number=number, station=hole)
        add_equipment(
            town,
            studio,
            "pipe-warmer",
            f"warmer {number}",
            number=number,
            station=hole,
            gas_fired=True,
            working_c=500,
            body=WARMER,
            draws={"gas": 8},
        )
    for number, tau in ((1, 4.0), (2, 6.0)):
        add_equipment(
            town,
            studio,
            "annealer",
            f"annealer {number}",
            number=number,
            clear_min=30,
            capacity_cm2=4000,
            body={**ANNEALER, "tau_h": tau},
            draws={"shop feeder": 6},
        )


def _flame(town: Town) -> None:
    studio = town.flame
    add_supply(town, studio, "oxygen", "oxygen", 30)
    add_supply(town, studio, "electricity", "kiln feeder", 16)
    for number in range(1, 9):
        add_equipment(
            town,
            studio,
            "torch",
            f"torch {number}",
            number=number,
            prepare_min=5,
            clear_min=5,
            draws={"oxygen": 6},
        )
    add_equipment(
        town,
        studio,
        "annealer",
        "small annealer",
        clear_min=15,
        capacity_cm2=900,
        body={**ANNEALER, "tau_h": 2.0, "power_kw": 3.0, "ambient_c": 25.0},
        draws={"kiln feeder": 3},
    )
    add_equipment(
        town,
        studio,
        "kiln",
        "kiln",
        prepare_min=45,
        clear_min=30,
        capacity_cm2=3000,
        body=KILN,
        draws={"kiln feeder": 5},
    )
    add_equipment(town, studio, "cold-station", "saw")
    for weekday in range(7):
        BenchHours.objects.create(studio=studio, weekday=weekday, opens=dt.time(10), closes=dt.time(21))


def add_course(
    town: Town, name: str, studio: Studio, glass: str, needs: dict[str, int], **facts: Any
) -> Course:
    """A course with its needs by kind of equipment."""
    fields = {"minutes": 180, "seats": 6, "shape": "vessel", "thickness_mm": 8.0, **facts}
    course = Course.objects.create(
        name=name, slug=name.replace(" ", "-"), glass=town.glasses[glass], **fields
    )
    course.studios.add(studio)
    for kind, count in needs.items():
        CourseNeed.objects.create(course=course, kind=kind, count=count)
    town.courses[name] = course
    return course


def _courses(town: Town) -> None:
    blowing = {"furnace": 1, "glory-hole": 1, "annealer": 1}
    add_course(town, "blowing", town.hot_shop, "studio-96", blowing, piece_footprint_cm2=200)
    add_course(
        town,
        "paperweights",
        town.hot_shop,
        "studio-96",
        blowing,
        shape="sphere",
        thickness_mm=60.0,
        setup_min=15,
        cleanup_min=15,
    )
    flame = {"torch": 5, "annealer": 1}
    add_course(
        town,
        "beads",
        town.flame,
        "soft-104",
        flame,
        seats=5,
        shape="bead",
        thickness_mm=14.0,
        piece_footprint_cm2=20,
    )
    add_course(
        town,
        "boro",
        town.flame,
        "boro-33",
        {"torch": 1, "annealer": 1},
        seats=1,
        shape="cylinder",
        thickness_mm=9.0,
    )
    add_course(
        town,
        "tiles",
        town.flame,
        "fusing-90",
        {"kiln": 1, "cold-station": 1},
        minutes=120,
        shape="plate-on-shelf",
        thickness_mm=6.0,
        recipe="full-fuse",
    )
