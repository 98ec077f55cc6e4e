"""The table: the day's round, as a page and in the API."""

from __future__ import annotations

from typing import Any

from scheduling.selectors.duties import duties_on
from studios.models import Person
from tests.faces.permissions.cast import TUESDAY_BEFORE, Cast
from tests.faces.permissions.table import Row, shows_uid, uid_of

AT_FLAME = {"studio": "flame", "day": TUESDAY_BEFORE.isoformat()}


def keys(cast: Cast) -> list[str]:
    """What was to be switched on for the class of the evening before."""
    assert cast.fired.pk
    return list(duties_on(cast.town.flame, TUESDAY_BEFORE)[0].keys)


def slug(_cast: Cast, _person: Person) -> dict[str, Any]:
    return {"slug": "flame"}


def unticked(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"day": AT_FLAME["day"], "did": "tick", "duty": keys(cast)}


PAGES = [
    Row(name="round", by=("tick",), query=lambda *_: {"studio": "flame"}),
    Row(name="tick", method="POST", by=("tick",), made=slug, sent=unticked),
    Row(
        name="take-back-tick",
        method="POST",
        by=("tick",),
        made=slug,
        before=lambda cast, _: cast.fired,
        sent=lambda cast, _: {"tick": cast.tick.uid},
    ),
    Row(
        name="happened",
        method="POST",
        by=("record-actual",),
        made=slug,
        sent=lambda cast, _: {"firing": cast.fired.uid, "kind": "temperature", "read_c": "40"},
    ),
]
API = [
    Row(name="api:duty-list", by=("tick",), query=lambda *_: AT_FLAME),
    Row(name="api:tick-list", by=("tick",), before=lambda cast, _: cast.fired, shows=shows_uid("tick")),
    Row(
        name="api:tick-list",
        method="POST",
        by=("tick",),
        sent=lambda cast, _: AT_FLAME | {"duties": keys(cast)},
    ),
    Row(
        name="api:tick-take-back",
        method="POST",
        by=("tick",),
        before=lambda cast, _: cast.fired,
        made=uid_of("tick"),
    ),
]
