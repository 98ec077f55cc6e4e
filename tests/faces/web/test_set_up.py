"""Setting a studio up by its pages: from nothing to a first class, and what they refuse."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlencode

import pytest
import time_machine

from scheduling.models import AuditEntry, Course, Session
from scheduling.services.booking import book_session
from studios.models import (
    Closure,
    Equipment,
    GlassType,
    Membership,
    Person,
    Qualification,
    StaffedHours,
    Studio,
    Supply,
    ThermalRecord,
)
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import Town, local

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


# What is refused, and what is booked already.


def booked(town: Town, name: str = "blowing", instructor: Person | None = None) -> Session:
    course, instructor = town.courses[name], instructor or town.instructor
    studio = course.studios.get()
    return book_session(
        actor=instructor, course=course, studio=studio, instructor=instructor, starts_at=local(1, 18)
    )


@pytest.fixture
def morning() -> Iterator[None]:
    """Monday, nine o'clock."""
    with time_machine.travel(local(0, 9), tick=False):
        yield


def held_hole(session: Session) -> Equipment:
    return Equipment.objects.get(kind="glory-hole", occupancies__booking__session=session)


def test_equipment_that_is_booked_is_not_retired_and_its_page_names_what_holds_it(
    town: Town, visit: Visits, morning: None
) -> None:
    session = booked(town)
    hole, visitor = held_hole(session), visit(town.technician)

    page = visitor.post(f"/equipment/{hole.uid}/retire")

    assert f"{hole.name} is held by blowing, Tue 4 Mar 2031, 18:00 CST." in page.words
    assert "It cannot be retired yet" in page.words
    assert page.all("a", href=f"/sessions/{session.uid}")
    assert Equipment.objects.get(pk=hole.pk).active


def test_what_nothing_holds_is_retired_and_used_again(town: Town, visit: Visits) -> None:
    saw, visitor = town.equipment["saw"], visit(town.technician)

    assert "is retired" in visitor.post(f"/equipment/{saw.uid}/retire").words
    assert not Equipment.objects.get(pk=saw.pk).active
    assert "in use again" in visitor.post(f"/equipment/{saw.uid}/use-again").words

    assert Equipment.objects.get(pk=saw.pk).active


def test_a_place_that_is_booked_is_kept(town: Town, visit: Visits, morning: None) -> None:
    booked(town)
    booked(town, instructor=town.other_instructor)
    furnace = town.equipment["furnace"]
    asked = {"name": "furnace", "number": "1", "places": "1", "working_c": "1150"}

    page = visit(town.technician).post(f"/equipment/{furnace.uid}/set-up", **asked)

    assert page.all("div", id="id_places_error")
    assert "Place 2 is booked" in page.words
    assert Equipment.objects.get(pk=furnace.pk).places == 3


def test_classes_on_days_that_are_closed_stand_and_are_listed(
    town: Town, visit: Visits, morning: None
) -> None:
    session = booked(town, "beads")
    days = {"first_day": "2031-03-04", "last_day": "2031-03-05", "reason": "the floor is sealed"}

    page = visit(town.manager).post("/set-up/flame/lines/closures", **days)

    assert Closure.objects.get().studio == town.flame
    assert "Booked already: beads, Tue 4 Mar, 18:00" in page.words
    assert Session.objects.get(pk=session.pk).status == "booked"


RECORD = {
    name: ANNEALER[name] for name in ("tau_h", "ceiling_c", "power_kw", "ambient_c", "source", "split_c")
}


def test_another_record_moves_no_booked_firing_and_says_which_keeps_its_hours(
    town: Town, visit: Visits, morning: None
) -> None:
    firing = booked(town, "beads").loads.get().firing
    asked = RECORD | {"tau_h": "5", "valid_from": "2031-03-03"}

    page = visit(town.technician).post(f"/equipment/{firing.equipment.uid}/record", **asked)

    assert "1 booked firing keeps its hours" in page.words
    before = firing.cool_at
    firing.refresh_from_db()
    assert firing.cool_at == before
    assert ThermalRecord.objects.get(equipment=firing.equipment, valid_from=local(0, 0).date()).tau_h == 5


@pytest.mark.parametrize(
    ("changed", "field", "says"),
    [
        ({"valid_from": "2031-03-02"}, "valid_from", "A record is not made in the past"),
        ({"ceiling_c": "20"}, "ceiling_c", "ceiling"),
        ({"door_c": "120"}, "door_c", "93"),
        ({"tau_h": ""}, "tau_h", "Fill this in."),
    ],
)
def test_what_is_wrong_with_a_record_stands_beside_its_field(
    town: Town, visit: Visits, morning: None, changed: dict[str, str], field: str, says: str
) -> None:
    annealer = town.equipment["small annealer"]
    asked = RECORD | {"valid_from": "2031-03-03"} | changed

    visitor = visit(town.technician)
    page = visitor.post(f"/equipment/{annealer.uid}/record", **asked)

    assert visitor.status == 400
    assert page.all("div", id=f"id_{field}_error")
    assert says in page.words
    assert annealer.thermal_records.count() == 1


def test_a_record_that_has_not_begun_is_taken_back_and_one_that_has_is_not(
    town: Town, visit: Visits, morning: None
) -> None:
    annealer, visitor = town.equipment["small annealer"], visit(town.technician)
    visitor.post(f"/equipment/{annealer.uid}/record", **RECORD, valid_from="2031-03-10")
    begun, coming = annealer.thermal_records.order_by("valid_from")

    assert "has begun" in visitor.post(f"/records/{begun.pk}/take-back").words
    assert "is taken back" in visitor.post(f"/records/{coming.pk}/take-back").words

    assert list(annealer.thermal_records.all()) == [begun]


def test_somebody_reads_and_types_in_their_own_units(town: Town, visit: Visits) -> None:
    town.manager.units = "us"
    town.manager.save()
    visitor, hole = visit(town.manager), town.equipment["hole 1"]

    page = visitor.get(f"/equipment/{hole.uid}/set-up")
    (shown,) = page.all("input", id="id_working_c")
    assert shown["value"] == "2012"
    assert "Working temperature (°F)" in page.words
    asked = {"name": "hole 1", "number": "1", "touch_c": "122", "lighting_kwh": "0", "gas_fired": "on"}
    visitor.post(f"/equipment/{hole.uid}/set-up", **asked, working_c="2102")

    assert Equipment.objects.get(pk=hole.pk).working_c == 1150
    assert Equipment.objects.get(pk=hole.pk).touch_c == 50


def test_a_glass_in_which_pieces_are_booked_stays_as_it_is(town: Town, visit: Visits, morning: None) -> None:
    booked(town, "beads")
    glass = town.glasses["soft-104"]
    facts = {name: str(getattr(glass, name)) for name in GLASS}

    page = visit(town.manager).post("/set-up/flame/glasses/soft-104", **facts | {"annealing_c": "490"})

    assert "Add another glass with the new values" in page.words
    assert GlassType.objects.get(pk=glass.pk).annealing_c == 507


GLASS = (
    *("name", "expansion_1e7_per_k", "strain_c", "annealing_c", "softening_c", "source"),
    *("youngs_gpa", "poisson", "conductivity_w_per_m_k", "density_kg_per_m3", "heat_capacity_j_per_kg_k"),
)


def test_a_course_of_two_studios_is_changed_by_whoever_manages_both(town: Town, visit: Visits) -> None:
    town.courses["boro"].studios.add(town.hot_shop)
    Membership.objects.filter(person=town.manager, studio=town.hot_shop).delete()
    asked = BEADS | {"name": "boro", "glass": str(town.glasses["boro-33"].pk), "need_torch": "2"}

    page = visit(town.manager).post("/set-up/flame/courses/boro", **asked)

    assert "Hot shop" in page.words
    assert page.all("div", role="alert")
    assert Course.objects.get(slug="boro").seats == 1


def test_a_supply_on_which_something_draws_is_not_taken_out(town: Town, visit: Visits) -> None:
    oxygen = town.supplies["oxygen"]

    page = visit(town.technician).post(f"/supplies/{oxygen.uid}/drop")

    assert "oxygen is held by torch 1, torch 2" in page.words
    assert Supply.objects.filter(pk=oxygen.pk).exists()


def test_the_same_hours_come_on_several_days_and_each_is_changed_alone(town: Town, visit: Visits) -> None:
    StaffedHours.objects.filter(studio=town.flame).delete()
    visitor = visit(town.manager)

    visitor.post("/set-up/flame/lines/staffed-hours", weekdays=["1", "3"], opens="09:00", closes="17:00")
    first, second = StaffedHours.objects.filter(studio=town.flame)
    visitor.post(f"/set-up/flame/lines/staffed-hours/{second.pk}", weekday="4", opens="09:00", closes="00:00")

    second.refresh_from_db()
    assert (first.weekday, second.weekday, second.closes) == (1, 4, dt.time(0))
    assert not first.may_light


def test_a_sign_off_is_given_told_and_taken_back(town: Town, visit: Visits) -> None:
    visitor, path = visit(town.manager), f"/set-up/hot-shop/sign-offs/{town.student.uid}"

    visitor.post(path, kinds=["furnace", "bench"])
    assert set(kinds_of(town.student, town.hot_shop)) == {"furnace", "bench"}
    visitor.post(path, kinds=["bench"])

    assert kinds_of(town.student, town.hot_shop) == ["bench"]
    assert town.student.messages.filter(subject="Your sign-offs at Hot shop").count() == 2


def kinds_of(person: Person, studio: Studio) -> list[str]:
    return list(Qualification.objects.filter(person=person, studio=studio).values_list("kind", flat=True))


def test_the_first_page_says_what_a_course_lacks(town: Town, visit: Visits) -> None:
    Qualification.objects.filter(studio=town.flame, kind="kiln").delete()
    town.equipment["small annealer"].thermal_records.all().delete()
    Equipment.objects.filter(pk=town.equipment["saw"].pk).update(active=False)

    page = visit(town.manager).get("/set-up/flame")

    assert "small annealer has no thermal record" in page.words
    assert "tiles needs 1 more of this kind: cold station." in page.words
    assert "Nobody who teaches here is signed off for all that tiles needs." in page.words
    assert page.all("a", href="/set-up/flame/equipment/new/cold-station")


def test_a_further_studio_is_opened_by_whoever_manages_one(town: Town, visit: Visits) -> None:
    asked = {"name": "New", "time_zone": "Europe/Berlin", "temperature_unit": "C", "length_unit": "mm"}

    visit(town.manager).post("/set-up/new", **asked)

    opened_here = Studio.objects.get(name="New")
    assert opened_here.slug == "new-2"  # "new" stands in an address already
    assert Membership.objects.get(studio=opened_here).person == town.manager


def test_a_length_that_is_not_touched_is_stored_as_it_was(town: Town, visit: Visits) -> None:
    town.manager.units = "us"
    town.manager.save()
    visitor, path = visit(town.manager), "/set-up/flame/courses/boro"

    (shown,) = visitor.get(path).all("input", id="id_thickness_mm")
    asked = BEADS | {"name": "boro", "glass": str(town.glasses["boro-33"].pk), "thickness_mm": shown["value"]}
    visitor.post(path, **asked)

    assert shown["value"] == "0.3543"
    assert Course.objects.get(slug="boro").thickness_mm == 9.0
    assert Course.objects.get(slug="boro").seats == 4


def test_only_who_books_classes_is_sent_to_look_for_a_start(visit: Visits, town: Town) -> None:
    for who, sent_there in ((town.manager, True), (town.technician, False)):
        page = visit(who).get("/set-up/flame")

        assert any("/book" in link.get("href", "") for link in page.all("a", class_="step")) is sent_there
