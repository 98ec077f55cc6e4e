"""What a studio lacks before its first class can be booked, and what would be worth having."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from scheduling.models import Course
from scheduling.selectors.safety import text_in_force
from scheduling.selectors.set_up import courses_here
from studios.models import (
    Equipment,
    EquipmentKind,
    GlassType,
    Membership,
    Person,
    Qualification,
    Role,
    Studio,
)
from studios.models.equipment import SupplyKind

FIRED = frozenset({EquipmentKind.KILN, EquipmentKind.ANNEALER})
# What is booked only by its thermal record.
RECORDED = FIRED | {EquipmentKind.GLORY_HOLE, EquipmentKind.PIPE_WARMER}
# A glory hole brings its own, or none.
BROUGHT = frozenset({EquipmentKind.BENCH, EquipmentKind.PIPE_WARMER})


class Lacks(StrEnum):
    """What may be lacking, in the order in which it is put right."""

    STAFFED = "staffed hours"
    LIGHT = "hours for lighting gas"
    LOAD = "hours for loading"
    UNLOAD = "hours for unloading"
    EQUIPMENT = "equipment"
    RECORD = "a thermal record"
    GLASS = "a glass"
    COURSE = "a course"
    NEEDS = "what a course needs"
    FOR_COURSE = "equipment for a course"
    SHELF = "room on a shelf"
    INSTRUCTOR = "an instructor"
    SIGN_OFF = "a sign-off"
    SAFETY = "a safety text"
    DRAW = "what it draws"
    POT = "a pot"
    TECHNICIAN = "a technician"
    WAY = "the way to another studio"
    BENCH_HOURS = "open bench time"


@dataclass(frozen=True, kw_only=True)
class Lack:
    """One thing that is lacking, with what it concerns."""

    what: Lacks
    equipment: Equipment | None = None
    course: Course | None = None
    kind: EquipmentKind | None = None
    number: int = 0
    people: tuple[Person, ...] = ()
    studio: Studio | None = None


class Found:
    """What stands at a studio, read once."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio

    @cached_property
    def equipment(self) -> list[Equipment]:
        rows = self.studio.equipment.filter(active=True)
        return list(rows.prefetch_related("thermal_records", "draws__supply").select_related("studio"))

    @cached_property
    def courses(self) -> list[Course]:
        return list(courses_here(self.studio))

    @cached_property
    def instructors(self) -> list[Person]:
        rows = Membership.objects.filter(studio=self.studio, role=Role.INSTRUCTOR, person__is_active=True)
        return [row.person for row in rows.select_related("person").order_by("person__name")]

    def of(self, kind: str) -> list[Equipment]:
        return [one for one in self.equipment if one.kind == kind]


def lacking(studio: Studio) -> list[Lack]:
    """What is in the way of a first class, in the order in which it is put right; none: try and book one."""
    found = Found(studio)
    return [*_hours(found), *_things(found), *_courses(found), *_people(found)]


def _hours(found: Found) -> Iterator[Lack]:
    """Somebody is there; where there is gas somebody lights it, and somebody loads and unloads."""
    hours = list(found.studio.staffed_hours.all())
    if not hours:
        yield Lack(what=Lacks.STAFFED)
        return
    if any(one.gas_fired for one in found.equipment) and not any(each.may_light for each in hours):
        yield Lack(what=Lacks.LIGHT)
    if found.of(EquipmentKind.KILN) and not any(each.may_load for each in hours):
        yield Lack(what=Lacks.LOAD)
    fired = [one for one in found.equipment if one.kind in FIRED]
    if fired and not any(each.may_unload for each in hours):
        yield Lack(what=Lacks.UNLOAD)


def _things(found: Found) -> Iterator[Lack]:
    if not found.equipment:
        yield Lack(what=Lacks.EQUIPMENT)
    for one in found.equipment:
        if one.kind in RECORDED and not one.thermal_records.all():
            yield Lack(what=Lacks.RECORD, equipment=one)
    if not GlassType.objects.exists():
        yield Lack(what=Lacks.GLASS)


def _courses(found: Found) -> Iterator[Lack]:
    """There is a course, it says what it needs, and what it needs is here."""
    if not found.courses:
        yield Lack(what=Lacks.COURSE)
    for course in found.courses:
        needs = list(course.needs.all())
        if not needs:
            yield Lack(what=Lacks.NEEDS, course=course)
        for need in needs:
            yield from _need(found, course, EquipmentKind(need.kind), need.count)


def _need(found: Found, course: Course, kind: EquipmentKind, count: int) -> Iterator[Lack]:
    here = found.of(kind)
    places = sum(one.places for one in here) if kind == EquipmentKind.FURNACE else len(here)
    if places < count and not (kind in BROUGHT and found.of(EquipmentKind.GLORY_HOLE)):
        yield Lack(what=Lacks.FOR_COURSE, course=course, kind=kind, number=count - places)
    elif kind in FIRED and all(one.capacity_cm2 < _room(course) for one in here):
        yield Lack(what=Lacks.SHELF, course=course, kind=kind, number=_room(course))


def _room(course: Course) -> int:
    """What its pieces take on a shelf when every seat is taken; at the torches that is one for each torch."""
    torches = [need.count for need in course.needs.all() if need.kind == EquipmentKind.TORCH]
    seats = min([course.seats, *torches])
    return seats * course.pieces_per_seat * course.piece_footprint_cm2


def _people(found: Found) -> Iterator[Lack]:
    """Somebody teaches, and is signed off for all that a course needs."""
    if not found.instructors:
        yield Lack(what=Lacks.INSTRUCTOR)
        return
    rows = Qualification.objects.filter(studio=found.studio).values_list("person", "kind")
    signed_off = set(rows)
    for course in found.courses:
        kinds = {need.kind for need in course.needs.all()}
        if not any(all((one.pk, kind) in signed_off for kind in kinds) for one in found.instructors):
            yield Lack(what=Lacks.SIGN_OFF, course=course, people=tuple(found.instructors))


def worth_having(studio: Studio) -> list[Lack]:
    """What nothing waits for, and a studio does better with."""
    found = Found(studio)
    return [*_safety(found), *_draws(found), *_staff(found), *_ways(found)]


def _safety(found: Found) -> Iterator[Lack]:
    if text_in_force(found.studio) is None:
        yield Lack(what=Lacks.SAFETY)


def _draws(found: Found) -> Iterator[Lack]:
    """What is heated draws on something, or no supply refuses it; a pot that is drawn from is counted."""
    for one in found.equipment:
        wanted = SupplyKind.FUEL_GAS if one.gas_fired else SupplyKind.ELECTRICITY
        heated = one.kind in RECORDED or one.kind == EquipmentKind.TORCH
        kinds = {draw.supply.kind for draw in one.draws.all()}
        if heated and not (kinds if one.kind == EquipmentKind.TORCH else kinds & {wanted}):
            yield Lack(what=Lacks.DRAW, equipment=one)
    if any(course.glass_kg_per_seat for course in found.courses):
        for furnace in found.of(EquipmentKind.FURNACE):
            if not hasattr(furnace, "pot"):
                yield Lack(what=Lacks.POT, equipment=furnace)


def _staff(found: Found) -> Iterator[Lack]:
    if not Membership.objects.filter(studio=found.studio, role=Role.TECHNICIAN).exists():
        yield Lack(what=Lacks.TECHNICIAN)
    if found.of(EquipmentKind.TORCH) and not found.studio.bench_hours.exists():
        yield Lack(what=Lacks.BENCH_HOURS)


def _ways(found: Found) -> Iterator[Lack]:
    """Without it somebody could end here and begin there in the same minute."""
    known = found.studio.travel_from.values("destination")
    for other in Studio.objects.exclude(pk=found.studio.pk).exclude(pk__in=known).order_by("name"):
        yield Lack(what=Lacks.WAY, studio=other)
