"""The table: pages of outages and their repair, and of charges."""

from __future__ import annotations

from typing import Any

from studios.models import Person
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.table import Row, uid_of
from tests.worlds import local


def saw(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.town.equipment["saw"].uid}


def outage(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.outage.uid}


SAW_OUT = {
    "first_day": "2031-03-04",
    "first_time": "09:00",
    "last_day": "2031-03-04",
    "last_time": "12:00",
    "reason": "a belt",
}


def furnace(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": cast.pot.furnace.uid}


THURSDAY_EIGHT = {"day": "2031-03-06", "time": "08:00"}
CHARGES = [
    Row(name="charges", at="hot-shop", by=("charge",), made=furnace),
    Row(
        name="charges",
        method="POST",
        at="hot-shop",
        by=("charge",),
        made=furnace,
        sent=lambda *_: THURSDAY_EIGHT,
    ),
    Row(
        name="measure-pot",
        method="POST",
        at="hot-shop",
        by=("charge",),
        made=furnace,
        sent=lambda *_: {"level_kg": "70"},
    ),
    Row(name="give-up-charge", method="POST", at="hot-shop", by=("charge",), made=uid_of("charge")),
]
OUTAGES = [
    Row(name="enter-outage", by=("enter-outage",), made=saw),
    Row(name="enter-outage", method="POST", by=("enter-outage",), made=saw, sent=lambda *_: SAW_OUT),
    Row(name="outage", by=("enter-outage",), made=outage),
    Row(
        name="repair-outage",
        method="POST",
        by=("book-for-others",),
        made=outage,
        sent=lambda cast, _: {"session": cast.session.uid, "starts_at": cast.session.starts_at.isoformat()},
    ),
    Row(
        name="repair-outage",
        note="of bench time",
        method="POST",
        by=("enter-outage",),
        made=uid_of("torch_outage"),
        sent=lambda cast, _: {"seat": cast.bench.uid, "starts_at": cast.bench.starts_at.isoformat()},
    ),
    Row(
        name="repair-outage",
        note="of a charge",
        method="POST",
        at="hot-shop",
        by=("charge",),
        made=uid_of("furnace_outage"),
        sent=lambda cast, _: {"charge": cast.charge.uid, "starts_at": local(3, 9).isoformat()},
    ),
    Row(
        name="end-outage",
        method="POST",
        by=("enter-outage",),
        made=lambda cast, _: {"uid": cast.running_outage.uid},
        sent=lambda *_: {"day": "2031-03-03", "time": "09:30"},
    ),
    Row(name="withdraw-outage", method="POST", by=("enter-outage",), made=outage),
]
