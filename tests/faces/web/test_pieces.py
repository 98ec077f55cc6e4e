"""Pieces in the hand: put somewhere, damaged, handed over and signed; lists for the kiln, labels, classes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.models import Collection, KilnJob, Message, Piece, PieceState
from scheduling.services.pick_up import unload
from studios.models import Equipment, Person
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Visit
from tests.services.kiln_work import a_job, booked, by_hand, load_at, with_shelves
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


@pytest.fixture
def kiln(town: Town) -> Equipment:
    return with_shelves(town)


@pytest.fixture
def job(town: Town, kiln: Equipment) -> KilnJob:
    """Six dishes of a student, fused in one night from Wednesday to Thursday."""
    job = a_job(town, town.student)
    return booked(job, load_at(job, kiln, local(2, 10)), actor=town.technician)


@pytest.fixture
def ready(job: KilnJob, town: Town, clock: time_machine.Traveller) -> list[Piece]:
    """They are out of the kiln, on a shelf."""
    clock.move_to(local(3, 9))
    firing = job.loads.get().firing
    unload(actor=town.technician, firing=firing, shelves={job.loads.get(): "shelf 4"})
    return list(job.pieces.order_by("number"))


def test_what_is_ticked_is_put_somewhere(town: Town, visit: Visits, job: KilnJob) -> None:
    first, second, *_others = job.pieces.order_by("number")
    visitor = visit(town.technician)

    page = visitor.post(
        "/pieces/put", piece=[str(first.uid), str(second.uid)], place="box 2", back=f"job:{job.uid}"
    )

    assert visitor.last == f"/kiln-jobs/{job.uid}"
    assert "2 pieces lie there: box 2." in page.words
    assert list(Piece.objects.filter(place="box 2", state=PieceState.HERE)) == [first, second]


def test_all_of_a_job_are_put_somewhere_without_forty_ticks(town: Town, visit: Visits, job: KilnJob) -> None:
    page = visit(town.technician).post(
        "/pieces/put", all=f"job:{job.uid}", place="box 2", back=f"job:{job.uid}"
    )

    assert "6 pieces lie there: box 2." in page.words


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"place": "box 2"}, "Say which pieces: at least one."),
        ({"place": "box 2", "piece": "no key"}, "Say which pieces: at least one."),
        ({"place": ""}, "Say where."),
        ({"place": "x" * 61}, "at most 60 characters"),
    ],
)
def test_without_a_tick_or_a_place_nothing_is_put_anywhere(
    town: Town, visit: Visits, job: KilnJob, sent: dict[str, str], sentence: str
) -> None:
    visitor = visit(town.technician)

    page = visitor.post("/pieces/put", back=f"job:{job.uid}", **sent)

    assert sentence in page.words
    assert not Piece.objects.exclude(place="").exists()


def test_a_form_goes_back_to_pages_of_ours_alone(town: Town, visit: Visits) -> None:
    visitor = visit(town.technician)

    visitor.post("/pieces/put", place="box 2", back="https://elsewhere.example/")

    assert visitor.last == "/kiln-jobs"


def test_damage_is_noted_and_its_maker_told(town: Town, visit: Visits, job: KilnJob) -> None:
    piece = job.pieces.order_by("number")[0]
    visitor = visit(town.technician)

    page = visitor.post(f"/pieces/{piece.uid}/damage", damage="a chip at the rim")

    assert "its maker is told" in page.words
    assert "a chip at the rim" in page.words
    assert Message.objects.filter(person=town.student, subject=f"Damaged: {piece.label}").exists()


def test_damage_without_a_word_is_refused_beside_its_field(town: Town, visit: Visits, job: KilnJob) -> None:
    visitor = visit(town.technician)

    page = visitor.post(f"/pieces/{job.pieces.all()[0].uid}/damage", damage="")

    assert visitor.status == 400
    assert "Say what happened to it." in page.words


def test_what_is_lost_is_found_again(town: Town, visit: Visits, job: KilnJob) -> None:
    piece = job.pieces.order_by("number")[0]
    visitor = visit(town.technician)
    lost = visitor.post(f"/pieces/{piece.uid}/damage", damage="fell", lost="on")

    found = visitor.post(f"/pieces/{piece.uid}/again", place="table")

    piece.refresh_from_db()
    assert "It is found again" in lost.words
    assert f"{piece.label} is here again." in found.words
    assert (piece.state, piece.place) == (PieceState.HERE, "table")


def test_pieces_are_handed_over_and_signed_for(town: Town, visit: Visits, ready: list[Piece]) -> None:
    visitor = visit(town.technician)
    uids = [str(piece.uid) for piece in ready]

    page = visitor.post("/pieces/hand-over", piece=uids, signed_by="A. Neighbour", back="pick-up:")

    assert visitor.last == "/pick-up"
    assert "6 pieces are handed over to A. Neighbour." in page.words
    assert set(Piece.objects.values_list("state", "signed_by")) == {("handed-over", "A. Neighbour")}


def test_what_is_not_ready_is_not_handed_over(town: Town, visit: Visits, job: KilnJob) -> None:
    piece = job.pieces.order_by("number")[0]

    page = visit(town.technician).post("/pieces/hand-over", piece=str(piece.uid), back=f"piece:{piece.uid}")

    assert f"The piece {piece.label} has not come yet" in page.words
    assert not Piece.objects.filter(state=PieceState.HANDED_OVER).exists()


def test_pick_up_shows_labels_and_takes_who_signs(town: Town, visit: Visits, ready: list[Piece]) -> None:
    visitor = visit(town.technician)
    page = visitor.get("/pick-up")
    collection = Collection.objects.get()

    after = visitor.post(
        f"/collections/{collection.uid}/collected", collected="yes", signed_by="A. Neighbour"
    )

    assert all(piece.label in page.words for piece in ready)
    assert "Fair dishes" in page.words
    assert "taken by A. Neighbour" in after.words
    assert set(Piece.objects.values_list("state", flat=True)) == {PieceState.HANDED_OVER}


def test_makers_see_their_pieces_on_their_first_page(town: Town, visit: Visits, ready: list[Piece]) -> None:
    page = visit(town.student).get("/my-seats")

    assert "My pieces, one by one" in page.words
    assert f"{ready[0].label} Fair dishes No. 1; ready to be collected, shelf 4" in page.words


def test_a_piece_shows_its_history_to_its_maker_without_forms(
    town: Town, visit: Visits, ready: list[Piece]
) -> None:
    page = visit(town.student).get(f"/pieces/{ready[0].uid}")

    assert "What happened to it" in page.words
    assert "ready to be collected, shelf 4" in page.words
    assert not page.all("form", action="/pieces/put")


def test_a_piece_of_somebody_else_is_not_found(town: Town, visit: Visits, job: KilnJob) -> None:
    visitor = visit(town.other_student)

    visitor.get(f"/pieces/{job.pieces.all()[0].uid}")

    assert visitor.status == 404


@pytest.mark.parametrize("name", ["loading", "unloading"])
def test_a_list_has_every_piece_its_shelf_and_a_column_to_check_off(
    town: Town, visit: Visits, job: KilnJob, name: str
) -> None:
    firing = job.loads.get().firing

    page = visit(town.technician).get(f"/firings/{firing.uid}/{name}-list")

    assert len(page.all("svg", class_="shelf")) == 2
    assert len(page.all("td", class_="check-off")) == 6
    assert all(piece.label in page.words for piece in job.pieces.all())


def test_a_loading_list_has_the_program_to_key_in(town: Town, visit: Visits, job: KilnJob) -> None:
    firing = job.loads.get().firing

    page = visit(town.technician).get(f"/firings/{firing.uid}/loading-list")

    assert "Segments to key in" in page.words
    assert "180 mm, 10 mm" in page.words


def test_an_unloading_list_says_which_pieces_are_worked_cold(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    job = a_job(town, town.student, cold_min_each=20)
    fuse = load_at(job, kiln, local(2, 10))
    cold = by_hand(fuse, Handwork.COLD_WORK, local(4, 10), 40, town.equipment["saw"], of=(0, 1))
    others = by_hand(fuse, Handwork.COLD_WORK, local(5, 10), 80, town.equipment["saw"], of=(2, 3, 4, 5))
    booked(job, fuse, actor=town.technician, handwork=[cold, others])

    page = visit(town.technician).get(f"/firings/{job.loads.get().firing.uid}/unloading-list")

    first, second, *_ = (piece.label for piece in job.pieces.order_by("number"))
    assert f"To be worked cold at saw from Fri 7 Mar, 10:00: {first}, {second}" in page.words


def test_the_lists_are_for_those_who_see_names(town: Town, visit: Visits, job: KilnJob) -> None:
    visitor = visit(town.student)

    visitor.get(f"/firings/{job.loads.get().firing.uid}/loading-list")

    assert visitor.status == 404


def test_the_way_to_the_lists_is_on_the_firing_and_on_the_round(
    town: Town, visit: Visits, job: KilnJob, clock: time_machine.Traveller
) -> None:
    address = f"/firings/{job.loads.get().firing.uid}/loading-list"
    visitor = visit(town.technician)

    assert visitor.get(f"/firings/{job.loads.get().firing.uid}").all("a", href=address)
    assert visitor.get("/round", studio="flame", day="2031-03-05").all("a", href=address)


def test_the_pieces_of_a_class_are_listed_and_labelled(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    a_seat(session, town.student)
    visitor = visit(town.instructor)

    page = visitor.post(f"/sessions/{session.uid}/pieces", **{f"made-{town.student.pk}": "3"})
    sheet = visitor.get(f"/sessions/{session.uid}/labels")

    assert "3 pieces more are listed." in page.words
    assert len(sheet.all("li", class_="piece-label")) == 3
    assert set(session.pieces.values_list("maker__name", flat=True)) == {"Student"}
    assert visitor.get(f"/sessions/{session.uid}/roster").all("a", href=f"/sessions/{session.uid}/pieces")


def test_nobody_makes_forty_one_pieces_in_a_class(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    a_seat(session, town.student)
    visitor = visit(town.instructor)

    page = visitor.post(f"/sessions/{session.uid}/pieces", **{f"made-{town.student.pk}": "41"})

    assert visitor.status == 409
    assert "40" in page.words
    assert not session.pieces.exists()


def test_a_student_adds_pieces_where_a_shelf_has_room(town: Town, visit: Visits, kiln: Equipment) -> None:
    host = a_job(town, shares_space=True)
    booked(host, load_at(host, kiln, local(2, 10)), actor=town.instructor)
    firing = host.loads.get().firing
    visitor = visit(town.student)
    listed = visitor.get("/kiln-jobs/open-space")
    dish = {
        "rows": "1",
        "size0-count": "1",
        "size0-length_mm": "90",
        "glass": "fusing-90",
        "thickness_mm": "5",
    }

    page = visitor.post(f"/firings/{firing.uid}/add-pieces", **dish)

    own = KilnJob.objects.get(owner=town.student)
    assert listed.all("a", href=f"/firings/{firing.uid}/add-pieces")
    assert "fusing-90 or what is compatible with it, up to 6 mm" in listed.words
    assert visitor.last == f"/kiln-jobs/{own.uid}"
    assert "Your pieces are in that firing" in page.words
    assert own.loads.get().firing == firing


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"glass": "boro-33"}, "does not anneal as"),
        ({"thickness_mm": "3"}, "go by another program"),
        ({"size0-length_mm": "590"}, "have no room for all of them"),
        ({"size0-count": ""}, "Fill this in."),
        ({"thickness_mm": ""}, "Say how thick the pieces are."),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_added(
    town: Town, visit: Visits, kiln: Equipment, wrong: dict[str, str], sentence: str
) -> None:
    host = a_job(town, shares_space=True)
    booked(host, load_at(host, kiln, local(2, 10)), actor=town.instructor)
    dish = {
        "rows": "1",
        "size0-count": "1",
        "size0-length_mm": "90",
        "glass": "fusing-90",
        "thickness_mm": "5",
    }
    visitor = visit(town.student)

    page = visitor.post(f"/firings/{host.loads.get().firing.uid}/add-pieces", **dish | wrong)

    assert visitor.status == 400
    assert sentence in page.words
    assert not KilnJob.objects.filter(owner=town.student).exists()


def test_a_shelf_is_opened_to_others_and_closed_again(town: Town, visit: Visits, job: KilnJob) -> None:
    firing = job.loads.get().firing
    visitor = visit(town.student)

    opened = visitor.post(f"/firings/{firing.uid}/open-space", open="yes", back=f"job:{job.uid}")
    closed = visitor.post(f"/firings/{firing.uid}/open-space", open="no", back=f"job:{job.uid}")

    assert "Others may add pieces to it until its loading begins." in opened.words
    assert "Nobody adds anything more to it." in closed.words


def test_a_plan_for_the_cold_work_that_is_left_is_read_and_booked(
    town: Town,
    visit: Visits,
    kiln: Equipment,
    clock: time_machine.Traveller,
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:
    job, saw = a_job(town, cold_min_each=10), town.equipment["saw"]
    load = load_at(job, kiln, local(1, 18))
    cold = by_hand(load, Handwork.COLD_WORK, local(8, 10), 60, saw)
    booked(job, load, actor=town.instructor, handwork=[cold])
    clock.move_to(local(3, 12))
    visitor = visit(town.instructor)

    with django_capture_on_commit_callbacks(execute=True):
        visitor.post(f"/kiln-jobs/{job.uid}/seek")
    answer = job.answers.latest("pk")
    page = visitor.get(f"/kiln-answers/{answer.uid}")
    after = visitor.post(f"/kiln-answers/{answer.uid}/book")

    assert "what is out of the kiln already, or comes out first, 6 pieces: 1, 2, 3, 4, 5, 6" in page.words
    assert "The nights" not in page.words
    assert "its firings are booked" in after.words
    assert job.steps.get().starts_at < local(8, 10)


def test_an_outage_is_in_the_way_and_the_rest_is_planned_anew_once_the_plan_is_read(
    town: Town,
    visit: Visits,
    kiln: Equipment,
    job: KilnJob,
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:
    kiln.outages.create(starts_at=local(2, 9), ends_at=local(2, 18), reason="an element")
    visitor = visit(town.technician)
    before = visitor.get(f"/kiln-jobs/{job.uid}")

    with django_capture_on_commit_callbacks(execute=True):
        visitor.post(f"/kiln-jobs/{job.uid}/seek")
    answer = job.answers.latest("pk")
    page = visitor.get(f"/kiln-answers/{answer.uid}")
    still = job.loads.get().in_from
    after = visitor.post(f"/kiln-answers/{answer.uid}/book")

    assert "a kiln or a cold station is out of use when it is booked there" in before.words
    assert before.all("form", action=f"/kiln-jobs/{job.uid}/seek")
    assert "it changes nothing until it is booked" in page.words
    assert "Book these in place of what has not begun" in page.words
    assert still < local(2, 18)
    assert "Fair dishes: its firings are booked." in after.words
    assert job.loads.get().in_from > local(2, 18)
