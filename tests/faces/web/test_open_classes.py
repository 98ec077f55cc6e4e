"""A class's kiln firing on its page: opened to others, changed, closed; added to for another class."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine

from scheduling.models import Firing, KilnJob, Session
from scheduling.services.offered_space import offer
from scheduling.services.open_shelves import add_pieces
from scheduling.services.seats import reserve_class_seat
from studios.models import Equipment, Person
from tests.faces.web.conftest import Visit
from tests.services.kiln_work import DISHES, with_shelves
from tests.services.test_booking import book as book_class
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
PLATE = {
    "rows": "1",
    "size0-count": "2",
    "size0-length_mm": "90",
    "glass": "fusing-90",
    "thickness_mm": "6",
}


@pytest.fixture(autouse=True)
def monday() -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


@pytest.fixture
def kiln(town: Town) -> Equipment:
    """Three shelves, each of which adds to the cost."""
    kiln = with_shelves(town)
    kiln.shelf_levels, kiln.capacity_cm2 = 3, 9000
    kiln.shelf_wash_price, kiln.hour_price = 2, 1
    kiln.save()
    return kiln


@pytest.fixture
def session(town: Town, kiln: Equipment) -> Session:
    return book_class(town, "tiles", local(1, 18))


@pytest.fixture
def firing(session: Session) -> Firing:
    return Firing.objects.get(loads__session=session)


def test_whoever_teaches_it_opens_it_and_the_form_says_what_is_usual(
    town: Town, visit: Visits, firing: Firing
) -> None:
    visitor = visit(town.instructor)
    before = visitor.get(f"/firings/{firing.uid}")

    after = visitor.post(f"/firings/{firing.uid}/open-to-others", shelves_kept="1")

    (kept,) = before.all("input", name="shelves_kept")
    assert kept["value"] == "1"
    assert "Counted from below; at least 1, at most 2. Its pieces take 1 where" in before.words
    assert "common practice, no source" in before.words
    assert "Others may add pieces above the shelves of the class." in after.words
    assert "The lowest shelf is the class’s; what others add stands above it." in after.words
    assert after.all("a", href=f"/firings/{firing.uid}/add-pieces")


def test_until_an_hour_by_the_studios_clock_and_closed_again(
    town: Town, visit: Visits, firing: Firing
) -> None:
    visitor = visit(town.technician)
    address = f"/firings/{firing.uid}/open-to-others"

    visitor.post(address, shelves_kept="2", until_day="2031-03-04", until_time="12:00")
    firing.refresh_from_db()
    opened = (firing.shelves_kept, firing.takes_more_until)
    closed = visitor.post(address, open="no")

    assert opened == (2, local(1, 12))
    assert "Nobody adds anything more to it." in closed.words
    firing.refresh_from_db()
    assert firing.takes_more_until is None


@pytest.mark.parametrize(
    ("typed", "status", "sentence"),
    [
        ({"shelves_kept": "3"}, 409, "the class keeps 1 at least"),
        ({"shelves_kept": "0"}, 409, "the class keeps 1 at least"),
        ({"shelves_kept": ""}, 400, "Fill this in."),
        ({"shelves_kept": "one"}, 400, "whole number"),
        ({"shelves_kept": "1", "until_day": "2031-03-04"}, 400, "Give a day and a time, or neither."),
        (
            {"shelves_kept": "1", "until_day": "2031-03-07", "until_time": "12:00"},
            409,
            "from now until loading begins",
        ),
    ],
)
def test_what_cannot_be_stands_beside_its_field_and_nothing_is_opened(
    town: Town, visit: Visits, firing: Firing, typed: dict[str, str], status: int, sentence: str
) -> None:
    visitor = visit(town.instructor)

    page = visitor.post(f"/firings/{firing.uid}/open-to-others", **typed)

    assert visitor.status == status
    assert sentence in page.words
    firing.refresh_from_db()
    assert firing.takes_more_until is None


def test_where_it_cannot_be_opened_the_page_says_why(
    town: Town, visit: Visits, kiln: Equipment, firing: Firing
) -> None:
    Equipment.objects.filter(pk=kiln.pk).update(shelf_levels=1)

    page = visit(town.instructor).get(f"/firings/{firing.uid}")

    assert "This firing cannot be opened to others. No shelf of kiln is left for others" in page.words
    assert not page.all("input", name="shelves_kept")


@pytest.mark.parametrize("who", ["student", "other_instructor"])
def test_nobody_else_is_asked(town: Town, visit: Visits, firing: Firing, who: str) -> None:
    visitor = visit(town.people[who])

    page = visitor.get(f"/firings/{firing.uid}")
    refused = visitor.post(f"/firings/{firing.uid}/open-to-others", shelves_kept="1")

    assert "Open shelf space" not in page.words.split("What is in it")[1].split("What happened")[0]
    assert refused.all("div", class_="notice error") or "notice error" in str(refused.elements)
    firing.refresh_from_db()
    assert firing.takes_more_until is None


def test_others_find_it_among_what_is_open_and_see_what_it_costs(
    town: Town, visit: Visits, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)
    visitor = visit(town.student)

    listed = visitor.get("/kiln-jobs/open-space")
    page = visitor.get(f"/firings/{firing.uid}/add-pieces")
    added = visitor.post(f"/firings/{firing.uid}/add-pieces", **PLATE)

    assert "free on 2 shelves, above those of a class, not laid yet" in listed.words
    assert "What it costs as it is" in page.words
    assert "A further one is washed for what comes" in page.words
    assert "Its wash adds 2.00" in page.words
    assert not page.all("select", name="session")
    assert "Your pieces are in that firing" in added.words
    assert "Wash the shelves" in added.words
    shared = visitor.get(f"/firings/{firing.uid}")
    assert "Bears of the cost" in shared.words


def test_an_instructor_adds_for_a_class_of_theirs(town: Town, visit: Visits, firing: Firing) -> None:
    offer(actor=town.instructor, firing=firing)
    other = book_class(town, "beads", local(2, 18), instructor=town.other_instructor)
    reserve_class_seat(actor=town.student, session=other)
    visitor = visit(town.other_instructor)
    page = visitor.get(f"/firings/{firing.uid}/add-pieces")

    visitor.post(f"/firings/{firing.uid}/add-pieces", session=str(other.uid), **PLATE)

    assert page.all("option", value=str(other.uid))
    job = KilnJob.objects.get(owner=town.other_instructor)
    assert job.title == "beads"
    assert {piece.maker for piece in job.pieces.all()} == {town.student}


def test_the_loading_list_says_which_shelves_are_the_classes(
    town: Town, visit: Visits, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)
    add_pieces(
        actor=town.student,
        firing=firing,
        sizes=DISHES,
        glass=town.glasses["fusing-90"],
        thickness_mm=6.0,
    )

    page = visit(town.technician).get(f"/firings/{firing.uid}/loading-list")

    assert "Shelf 1 is the class’s" in page.words
