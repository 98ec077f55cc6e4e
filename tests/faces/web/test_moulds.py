"""Shelves of a kiln and moulds, set up by whoever looks after the equipment, in the reader's units."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scheduling.models import JobSize, KilnJob
from studios.models import Equipment, Mould, Person
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
MOULDS = "/set-up/flame/lines/moulds"
BOWL = {"name": "Shallow bowl", "count": "4", "holds": "1", "length_mm": "150", "width_mm": "120"}
KILN = {"name": "kiln", "number": "1", "capacity_cm2": "3000", "prepare_min": "45", "clear_min": "30"}
KILN |= {"longest_wait_min": "0"}


def test_a_technician_adds_moulds_and_takes_them_out(town: Town, visit: Visits) -> None:
    visitor = visit(town.technician)

    page = visitor.post(MOULDS, **BOWL)
    after = visitor.post(f"{MOULDS}/{Mould.objects.get().pk}/drop")

    assert visitor.last == MOULDS
    assert "Shallow bowl, 150 × 120 mm" in page.words
    assert "4 pieces in a firing" in page.words
    assert "There are none: pieces are fired flat" in after.words
    assert not Mould.objects.exists()


def test_a_round_mould_is_given_by_its_diameter_in_inches(town: Town, visit: Visits) -> None:
    town.flame.length_unit = "in"
    town.flame.save()

    page = visit(town.technician).post(MOULDS, **BOWL | {"round": "on", "length_mm": "6", "width_mm": ""})

    mould = Mould.objects.get()
    assert (mould.round, mould.length_mm, mould.width_mm) == (True, 152, 152)
    assert "Shallow bowl, Ø 5.98 in" in page.words


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"holds": "0"}, "A mould holds at least one piece."),
        ({"width_mm": ""}, "Fill this in."),
        ({"round": "on"}, "A round mould is as wide as it is long."),
        ({"length_mm": "wide"}, "Write a number, such as 12 or 0.5."),
        ({"count": "-1"}, "greater than or equal to 0"),
    ],
)
def test_moulds_that_cannot_be_are_refused(
    town: Town, visit: Visits, wrong: dict[str, str], sentence: str
) -> None:
    visitor = visit(town.technician)

    page = visitor.post(MOULDS, **BOWL | wrong)

    assert visitor.status == 400
    assert sentence in page.words
    assert not Mould.objects.exists()


def test_moulds_that_a_job_was_asked_for_with_stay_in_the_book(town: Town, visit: Visits) -> None:
    bowl = Mould.objects.create(studio=town.flame, name="bowl", count=2, length_mm=150, width_mm=150)
    facts = {"glass": town.glasses["fusing-90"], "thickness_mm": 6, "route": "fuse-slump"}
    job = KilnJob.objects.create(title="dishes", owner=town.instructor, arrives_at=local(1, 9), **facts)
    JobSize.objects.create(job=job, count=3, length_mm=150, width_mm=150, mould=bowl)

    page = visit(town.technician).post(f"{MOULDS}/{bowl.pk}/drop")

    bowl.refresh_from_db()
    assert not bowl.active
    assert "There are none: pieces are fired flat" in page.words


def test_whoever_teaches_does_not_set_moulds_up(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    visitor.post(MOULDS, **BOWL)

    assert visitor.status == 403
    assert not Mould.objects.exists()


def test_the_shelves_of_a_kiln_and_what_it_costs(town: Town, visit: Visits) -> None:
    kiln = town.equipment["kiln"]
    given = {"shelf_length_mm": "600", "shelf_width_mm": "500", "shelf_levels": "3", "hour_price": "2.50"}
    visitor = visit(town.technician)

    visitor.post(f"/equipment/{kiln.uid}/set-up", **KILN | given | {"shelf_margin_mm": ""})

    kiln = Equipment.objects.get(pk=kiln.pk)
    assert visitor.last == "/set-up/flame/equipment"
    assert (kiln.shelf_length_mm, kiln.shelf_width_mm, kiln.shelf_levels) == (600, 500, 3)
    assert (kiln.shelf_margin_mm, kiln.piece_spacing_mm, str(kiln.hour_price)) == (10, 12, "2.50")


def test_a_shelf_with_a_length_and_no_width_is_refused_beside_it(town: Town, visit: Visits) -> None:
    kiln = town.equipment["kiln"]
    visitor = visit(town.technician)

    page = visitor.post(f"/equipment/{kiln.uid}/set-up", **KILN | {"shelf_length_mm": "600"})

    assert visitor.status == 400
    assert "A shelf has a length and a width; give both or none." in page.words


def test_a_shelf_that_is_all_margin_is_refused(town: Town, visit: Visits) -> None:
    kiln = town.equipment["kiln"]
    given = {"shelf_length_mm": "300", "shelf_width_mm": "20", "shelf_margin_mm": "10"}
    visitor = visit(town.technician)

    page = visitor.post(f"/equipment/{kiln.uid}/set-up", **KILN | given)

    assert visitor.status == 400
    assert "The margin leaves nothing of the shelf." in page.words
