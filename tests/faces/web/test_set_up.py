"""Setting a studio up by its pages: from nothing to a first class, and what they refuse."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import pytest
import time_machine

from scheduling.models import AuditEntry, Session
from studios.models import (
    GlassType,
    Person,
    Supply,
)
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
HERE = "/set-up/kiln-loft"
DUTIES = {"may_light": "on", "may_load": "on", "may_unload": "on", "may_charge": "on"}
EVERY_DAY = [str(day) for day in range(7)]
ANNEALER = {
    "name": "Loft annealer",
    "number": "1",
    "capacity_cm2": "2400",
    "clear_min": "20",
    "valid_from": "2031-03-03",
    "tau_h": "4",
    "ceiling_c": "1050",
    "power_kw": "6",
    "ambient_c": "25",
    "source": "Estimated, invented for tests",
    "split_c": "200",
}
TORCHES = {"name": "Torch", "number": "1", "last_number": "4", "prepare_min": "5", "clear_min": "10"}
BEADS = {
    "name": "Loft beads",
    "minutes": "150",
    "seats": "4",
    "min_seats": "1",
    "need_torch": "4",
    "need_annealer": "1",
    "shape": "bead",
    "thickness_mm": "14",
    "pieces_per_seat": "2",
    "piece_footprint_cm2": "20",
    "recipe": "anneal",
    "setup_min": "0",
    "cleanup_min": "0",
    "assistants": "0",
    "glass_kg_per_seat": "0",
}


@pytest.fixture
def manager() -> Person:
    """Somebody who runs the server, in a network that has no studio yet."""
    return Person.objects.create_superuser("first@loft.example", "glass", name="Firsta Loft")


def lacks(page: Reader) -> str:
    return page.words.partition("Worth having")[0]


def test_from_an_empty_network_to_a_first_class_by_these_pages_alone(visit: Visits, manager: Person) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        visitor = visit(manager)
        assert "There is no studio yet" in visitor.get("/set-up").words

        page = opened(visitor)
        for sentence in (
            "Nobody is ever there.",
            "There is no equipment.",
            "There is no glass.",
            "Nobody teaches here.",
        ):
            assert sentence in lacks(page)
        furnish(visitor)
        teach(visitor, manager)

        assert "Classes can be booked" in visitor.get(HERE).words
        visitor.post(f"/book?{urlencode(WISH)}", studio="kiln-loft", starts_at=local(2, 18).isoformat())

    session = Session.objects.get()
    assert (session.course.name, session.studio.name) == ("Loft beads", "Kiln loft")
    assert session.loads.get().firing.equipment.name == "Loft annealer"
    assert AuditEntry.objects.filter(studio=session.studio, did="set-up").count() >= 8


WISH = {
    "course": "loft-beads",
    "studios": "kiln-loft",
    "first_day": "2031-03-05",
    "last_day": "2031-03-05",
    "time": "18:00",
}


def opened(visitor: Visit) -> Reader:
    page = visitor.post(
        "/set-up/new",
        name="Kiln loft",
        time_zone="America/Chicago",
        temperature_unit="C",
        length_unit="mm",
        currency="",
    )
    assert visitor.last == HERE, page.words
    return page


def furnish(visitor: Visit) -> None:
    """Hours, two supplies, torches, an annealer, a glass."""
    sent(visitor, f"{HERE}/lines/staffed-hours", weekdays=EVERY_DAY, opens="08:00", closes="22:00", **DUTIES)
    sent(visitor, f"{HERE}/supplies/new/oxygen", name="Oxygen", limit="30")
    sent(visitor, f"{HERE}/supplies/new/electricity", name="Feeder", limit="16")
    oxygen, feeder = Supply.objects.get(name="Oxygen"), Supply.objects.get(name="Feeder")
    sent(visitor, f"{HERE}/equipment/new/torch", **TORCHES, **{f"draw_{oxygen.pk}": "6"})
    sent(visitor, f"{HERE}/equipment/new/annealer", **ANNEALER, **{f"draw_{feeder.pk}": "6"})
    sent(visitor, f"{HERE}/glasses/family", family="soft-104")


def teach(visitor: Visit, manager: Person) -> None:
    """A course, somebody who teaches it, and their sign-offs."""
    glass = GlassType.objects.get()
    sent(visitor, f"{HERE}/courses/new", **BEADS, glass=str(glass.pk))
    sent(visitor, "/people/kiln-loft/roles", person=str(manager.uid), role="instructor")
    sent(visitor, f"{HERE}/sign-offs/{manager.uid}", kinds=["torch", "annealer"])


def sent(visitor: Visit, path: str, **fields: Any) -> Reader:
    """A form that is carried out."""
    page = visitor.post(path, **fields)
    assert visitor.status == 200, (path, page.words)
    return page
