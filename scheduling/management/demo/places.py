"""The demo's glasses, studios, equipment and supplies."""

from __future__ import annotations

from collections.abc import Iterable

from scheduling.management.demo.files import Facts, checked, read
from scheduling.management.demo.term import WEEKDAYS, Term
from studios.models import (
    BenchHours,
    Closure,
    Draw,
    Equipment,
    EquipmentKind,
    GlassType,
    Mould,
    Pot,
    SafetyText,
    StaffedHours,
    Studio,
    Supply,
    ThermalRecord,
    Travel,
)
from studios.models import Term as StudioTerm
from studios.thermal import FAMILIES

DUTIES = ("light", "load", "unload", "charge")
APART = (
    "studio",
    "station",
    "room",
    "thermal",
    "draws",
    "numbers",
    "pot",
)  # what is no column of the equipment itself


def make_glasses() -> None:
    """The families of glass, each with the sources of its values."""
    for family in FAMILIES.values():
        checked(GlassType.of_family(family))


def make_studios(term: Term) -> None:
    """The studios with their hours, their closed days in this term, and the way between them."""
    facts = read("studios")
    for studio_facts in facts["studio"]:
        _make_studio(studio_facts, term)
    for way in facts["travel"]:
        origin, destination = (Studio.objects.get(slug=way[end]) for end in ("from", "to"))
        checked(Travel(origin=origin, destination=destination, minutes=way["minutes"]))


def make_equipment() -> None:
    """Supplies first, then the equipment that draws on them, stations before what belongs to them; moulds."""
    facts = read("equipment")
    for supply in facts["supply"]:
        own = {name: value for name, value in supply.items() if name != "studio"}
        checked(Supply(studio=Studio.objects.get(slug=supply["studio"]), **own))
    for piece in facts["equipment"]:
        _make_piece(piece)
    for torches in facts["torches"]:
        for number in torches["numbers"]:
            _make_piece({**torches, "kind": EquipmentKind.TORCH, "number": number, "name": f"Torch {number}"})
    for mould in facts["mould"]:
        own = {name: value for name, value in mould.items() if name != "studio"}
        checked(Mould(studio=Studio.objects.get(slug=mould["studio"]), **own))


def _make_studio(facts: Facts, term: Term) -> None:
    apart = {"staffed", "bench", "closed", "safety"}
    studio = checked(Studio(**{name: value for name, value in facts.items() if name not in apart}))
    checked(SafetyText(studio=studio, version=1, body=facts["safety"].strip()))
    last_day = term.day(read("term")["weeks"], "sunday")
    name = f"Term from {term.monday:%B %Y}"
    checked(StudioTerm(studio=studio, name=name, first_day=term.monday, last_day=last_day))
    for hours, weekday in _by_day(facts["staffed"]):
        duties = {f"may_{duty}": duty in hours["for"] for duty in DUTIES}
        checked(
            StaffedHours(
                studio=studio, weekday=weekday, opens=hours["opens"], closes=hours["closes"], **duties
            )
        )
    for hours, weekday in _by_day(facts["bench"]):
        checked(BenchHours(studio=studio, weekday=weekday, opens=hours["opens"], closes=hours["closes"]))
    for closed in facts["closed"]:
        first, last = (term.day(closed["week"], closed[end]) for end in ("from", "to"))
        checked(Closure(studio=studio, first_day=first, last_day=last, reason=closed["reason"]))


def _by_day(stretches: Iterable[Facts]) -> list[tuple[Facts, int]]:
    return [(hours, WEEKDAYS.index(day)) for hours in stretches for day in hours["days"]]


def _make_piece(facts: Facts) -> None:
    studio = Studio.objects.get(slug=facts["studio"])
    own = {name: value for name, value in facts.items() if name not in APART}
    station = studio.equipment.get(name=facts["station"]) if "station" in facts else None
    room = studio.supplies.get(name=facts["room"]) if "room" in facts else None
    piece = checked(Equipment(studio=studio, station=station, room=room, **own))
    if "thermal" in facts:
        checked(ThermalRecord(equipment=piece, **facts["thermal"]))
    if "pot" in facts:
        checked(Pot(furnace=piece, **facts["pot"]))
    for supply, amount in facts.get("draws", {}).items():
        checked(Draw(equipment=piece, supply=studio.supplies.get(name=supply), amount=amount))
