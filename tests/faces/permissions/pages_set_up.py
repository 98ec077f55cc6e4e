"""The table: pages of a studio's set-up."""

from __future__ import annotations

from typing import Any

from studios.models import BenchHours, GlassType, Person, SafetyText, StaffedHours, Supply, ThermalRecord
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.table import Row
from tests.worlds import local

HOURS = {"opens": "09:00", "closes": "12:00", "may_light": "on"}
SUPPLY = {"name": "Second line", "limit": "12", "floor": "0"}
SAW = {"name": "saw", "number": "1"}
RECORD = {
    "valid_from": "2031-03-20",
    "tau_h": "4",
    "split_c": "200",
    "ceiling_c": "1000",
    "power_kw": "3",
    "ambient_c": "25",
    "source": "invented",
}
POT = {
    "capacity_kg": "120",
    "floor_kg": "50",
    "charges": "4",
    "charge_min": "30",
    "gap_min": "90",
    "turn_up_min": "120",
    "charging_c": "1260",
    "fining_min": "720",
    "coming_down_min": "210",
}
GLASS = {
    "expansion_1e7_per_k": "95",
    "strain_c": "470",
    "annealing_c": "508",
    "softening_c": "690",
    "source": "invented",
    "youngs_gpa": "70",
    "poisson": "0.22",
    "conductivity_w_per_m_k": "1.4",
    "density_kg_per_m3": "2500",
    "heat_capacity_j_per_kg_k": "1170",
}
OWN_COURSE = {
    "minutes": "120",
    "seats": "1",
    "min_seats": "1",
    "need_torch": "1",
    "shape": "cylinder",
    "thickness_mm": "9",
    "pieces_per_seat": "1",
    "piece_footprint_cm2": "100",
    "recipe": "anneal",
    "setup_min": "0",
    "cleanup_min": "0",
    "assistants": "0",
    "glass_kg_per_seat": "0",
}


def flame(_cast: Cast, _person: Person) -> dict[str, Any]:
    return {"slug": "flame"}


def flame_with(**more: Any) -> Any:
    return lambda *_: {"slug": "flame", **more}


def hours(_cast: Cast, _person: Person) -> dict[str, Any]:
    row = StaffedHours.objects.filter(studio__slug="flame").first()
    assert row is not None
    return {"slug": "flame", "kind": "staffed-hours", "key": row.pk}


def bench_hours(_cast: Cast, _person: Person) -> dict[str, Any]:
    row = BenchHours.objects.filter(studio__slug="flame").first()
    assert row is not None
    return {"slug": "flame", "kind": "bench-hours", "key": row.pk}


def saw(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.town.equipment["saw"].uid}


def annealer(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.town.equipment["small annealer"].uid}


def furnace(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.town.equipment["furnace"].uid}


def oxygen(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.town.supplies["oxygen"].uid}


def spare(cast: Cast, _person: Person) -> dict[str, Any]:
    """A supply that nothing draws on."""
    row, _ = Supply.objects.get_or_create(studio=cast.town.flame, kind="exhaust", name="fan", limit=900)
    return {"uid": row.uid}


def coming_record(cast: Cast, _person: Person) -> dict[str, Any]:
    row, _ = ThermalRecord.objects.get_or_create(
        equipment=cast.town.equipment["small annealer"],
        valid_from=local(20, 0).date(),
        defaults={"tau_h": 2.0, "ceiling_c": 900.0, "power_kw": 3.0, "source": "invented"},
    )
    return {"key": row.pk}


def unused_glass(cast: Cast, _person: Person) -> dict[str, Any]:
    facts = {name: getattr(cast.town.glasses["soft-104"], name) for name in GLASS}
    GlassType.objects.get_or_create(slug="spare", name="spare", defaults=facts)
    return {"slug": "flame", "name": "spare"}


def own_course(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"slug": "flame", "name": cast.town.courses["boro"].slug}


def course_elsewhere(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"slug": "flame", "name": cast.town.courses["blowing"].slug}


def seated(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"slug": "flame", "uid": cast.seated.uid}


def a_glass(cast: Cast) -> int:
    return cast.town.glasses["boro-33"].pk


def both(name: str, by: str, made: Any, sent: Any, **more: Any) -> list[Row]:
    """A page that shows a form, and the form sent."""
    return [
        Row(name=name, by=(by,), made=made, **more),
        Row(name=name, method="POST", by=(by,), made=made, sent=sent, **more),
    ]


STUDIO = [
    Row(name="set-up", by=("set-up-equipment",), anywhere=True),
    *(
        Row(
            name="open-studio",
            method=method,
            by=("set-up",),
            anywhere=True,
            sent=lambda *_: {
                "name": "Annex",
                "time_zone": "America/Chicago",
                "temperature_unit": "C",
                "length_unit": "mm",
            },
        )
        for method in ("GET", "POST")
    ),
    Row(name="set-up-studio", by=("set-up-equipment",), made=flame),
    *both(
        "set-up-about",
        "set-up",
        flame_with(part="rules"),
        lambda *_: {"notice_min": "90", "hold_gap_min": "240"},
    ),
    *both(
        "set-up-lines",
        "set-up",
        flame_with(kind="staffed-hours"),
        lambda *_: HOURS | {"weekdays": ["0"]},
    ),
    *both("set-up-line", "set-up", hours, lambda *_: HOURS | {"weekday": "2"}),
    Row(name="drop-line", method="POST", by=("set-up",), made=bench_hours),
    *both(
        "set-up-safety",
        "set-up",
        flame,
        lambda *_: {"body": "Tie long hair back."},
        before=lambda *_: SafetyText.objects.all().delete(),
    ),
    *both("set-up-travel", "set-up", flame, lambda *_: {"other": "hot-shop", "minutes": "25"}),
]
EQUIPMENT = [
    Row(name="set-up-supplies", by=("set-up-equipment",), made=flame),
    *both("add-supply", "set-up-equipment", flame_with(kind="oxygen"), lambda *_: SUPPLY),
    *both("set-up-supply", "set-up-equipment", oxygen, lambda *_: SUPPLY | {"name": "oxygen"}),
    Row(name="drop-supply", method="POST", by=("set-up-equipment",), made=spare),
    Row(name="set-up-equipment", by=("set-up-equipment",), made=flame),
    *both(
        "add-equipment",
        "set-up-equipment",
        flame_with(kind="cold-station"),
        lambda *_: SAW | {"name": "second saw"},
    ),
    *both("change-equipment", "set-up-equipment", saw, lambda *_: SAW),
    Row(name="retire-equipment", method="POST", by=("set-up-equipment",), made=saw),
    Row(name="use-again", method="POST", by=("set-up-equipment",), made=saw),
    *both("enter-record", "calibrate", annealer, lambda *_: RECORD),
    Row(name="drop-record", method="POST", by=("calibrate",), made=coming_record),
    *both("set-up-pot", "set-up-equipment", furnace, lambda *_: POT, at="hot-shop"),
]
COURSES = [
    *both("set-up-glasses", "set-up", flame, lambda *_: GLASS | {"name": "green"}),
    Row(
        name="add-family",
        method="POST",
        by=("set-up",),
        made=flame,
        sent=lambda *_: {"family": "lead-crystal"},
    ),
    *both("set-up-glass", "set-up", unused_glass, lambda *_: GLASS | {"name": "spare"}),
    Row(name="set-up-courses", by=("set-up",), made=flame),
    *both(
        "add-course",
        "set-up",
        flame,
        lambda cast, _: OWN_COURSE | {"name": "rods", "glass": a_glass(cast)},
    ),
    *both(
        "set-up-course",
        "set-up",
        own_course,
        lambda cast, _: OWN_COURSE | {"name": "boro", "glass": a_glass(cast)},
    ),
    Row(name="teach-here", method="POST", by=("set-up",), made=course_elsewhere),
    Row(name="teach-no-more", method="POST", by=("set-up",), made=own_course),
    Row(name="sign-offs", by=("keep-people",), made=flame),
    *both("sign-off", "keep-people", seated, lambda *_: {"kinds": ["torch"]}),
]
SET_UP = [*STUDIO, *EQUIPMENT, *COURSES]
