"""Kiln jobs on their pages: asked for, answered, booked, and what is next for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.models import JobSize, KilnAnswer, KilnJob, KilnJobStatus, Piece
from scheduling.selectors.kiln_ready import handed_back
from scheduling.templatetags.lehrbook import when
from studios.models import Equipment, Mould, Person
from tests.faces.web.conftest import Visit
from tests.services.kiln_work import (
    a_job,
    answered,
    booked,
    by_hand,
    far_kiln,
    load_at,
    planned,
    split_plan,
    with_shelves,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]

ASKED = {
    "rows": "1",
    "title": "Fair dishes",
    "size0-count": "4",
    "size0-length_mm": "150",
    "size0-width_mm": "120",
    "glass": "fusing-90",
    "thickness_mm": "6",
    "route": "fuse",
    "arrives_day": "2031-03-04",
    "arrives_time": "09:00",
    "studios": "flame",
    "aim": "earliest",
}


@pytest.fixture(autouse=True)
def monday() -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


@pytest.fixture
def kiln(town: Town) -> Equipment:
    return with_shelves(town)


def test_an_empty_list_says_what_to_do(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/kiln-jobs")

    assert "Nothing has been asked for yet. Say how many pieces" in page.words
    assert page.all("a", href="/kiln-jobs/ask")
    assert page.all("a", href="/kiln-jobs", aria_current="page")


def test_a_list_says_what_is_next_for_each(town: Town, visit: Visits, kiln: Equipment) -> None:
    asked, to_fire = a_job(town, title="Only asked"), a_job(town, town.student, title="Of a student")
    load = load_at(to_fire, kiln, local(2, 10))
    booked(to_fire, load, actor=town.technician)

    own, others = visit(town.instructor).get("/kiln-jobs").words.split("Those of others")

    assert asked.title in own
    assert "Next: see when it can be fired" in own
    assert "Of a student" in others
    assert "Next: the pieces come, Tue 4 Mar, 09:00" in others


def test_after_its_pieces_have_come_the_kiln_is_next(town: Town, visit: Visits, kiln: Equipment) -> None:
    job = a_job(town)
    booked(job, load_at(job, kiln, local(2, 10)), actor=town.instructor)
    visitor = visit(town.instructor)

    page = visitor.post(f"/kiln-jobs/{job.uid}/come", place="the long table")

    assert "6 pieces are here." in page.words
    assert "Next: load kiln, Wed 5 Mar, 10:00, Flame" in page.words
    assert set(Piece.objects.values_list("state", "place")) == {("here", "the long table")}


def test_pieces_are_asked_for_and_their_answer_is_sought(town: Town, visit: Visits, kiln: Equipment) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/kiln-jobs/ask", **ASKED)

    job, size = KilnJob.objects.get(), JobSize.objects.get()
    assert visitor.last == f"/kiln-answers/{KilnAnswer.objects.get().uid}"
    assert (size.count, size.length_mm, size.width_mm) == (4, 150, 120)
    assert job.arrives_at == local(1, 9)
    assert "A plan is being sought" in page.words
    assert page.all("meta", http_equiv="refresh")


def test_another_size_keeps_what_was_typed_and_says_nothing_of_errors(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    page = visitor.post(
        "/kiln-jobs/ask", **ASKED | {"another-size": "yes", "title": "", "thickness_mm": "6.5"}
    )

    assert visitor.status == 200
    assert page.all("input", name="size1-count")
    assert page.all("input", name="size0-count", value="4")
    assert page.all("input", name="thickness_mm", value="6.5")
    assert "Give it a title." not in page.words
    assert not KilnJob.objects.exists()


def test_a_row_in_which_nothing_is_written_is_passed_over(town: Town, visit: Visits) -> None:
    dishes = {"size1-count": "2", "size1-length_mm": "120", "size1-round": "on", "size1-makers": "Ottilie"}

    visit(town.student).post("/kiln-jobs/ask", **ASKED | dishes | {"rows": "3"})

    assert list(JobSize.objects.values_list("count", "round", "width_mm")) == [
        (4, False, 120),
        (2, True, 120),
    ]
    assert list(Piece.objects.order_by("number").values_list("maker_name", flat=True)[4:]) == ["Ottilie", ""]


def test_lengths_are_in_the_readers_unit(town: Town, visit: Visits) -> None:
    town.flame.length_unit = "in"
    town.flame.save()
    inches = {"size0-length_mm": "6", "size0-width_mm": "5", "thickness_mm": "0.25"}
    visitor = visit(town.instructor)

    form = visitor.get("/kiln-jobs/ask")
    visitor.post("/kiln-jobs/ask", **ASKED | inches)

    assert "Length or diameter (in)" in form.words
    assert list(JobSize.objects.values_list("length_mm", "width_mm")) == [(152, 127)]
    assert KilnJob.objects.get().thickness_mm == pytest.approx(6.35)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"title": ""}, "Give it a title."),
        ({"size0-count": "0"}, "greater than or equal to 1"),
        ({"size0-count": ""}, "Fill this in."),
        ({"size0-count": "many"}, "Write a whole number, such as 12."),
        ({"size0-length_mm": "6000"}, "less than or equal to 5000 mm"),
        ({"size0-count": "", "size0-length_mm": "", "size0-width_mm": ""}, "Say how many pieces there are"),
        ({"glass": "unknown"}, "Choose a glass."),
        ({"thickness_mm": ""}, "Say how thick the pieces are."),
        ({"mixed_with": "soft-104"}, "fusing-90"),
        ({"studios": "hot"}, "Choose at least one studio."),
        ({"due_day": "2031-03-03"}, "It is due after it arrives."),
        ({"arrives_day": "2031-03-09", "arrives_time": "02:30"}, "02:30"),
        ({"route": "melt"}, "Choose what is wanted."),
        ({"size0-makers": "A\nB\nC\nD\nE"}, "There are more makers than pieces."),
        ({"cold_min_each": "-3"}, "greater than or equal to 0"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(
    town: Town, visit: Visits, wrong: dict[str, str], sentence: str
) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/kiln-jobs/ask", **ASKED | wrong)

    assert visitor.status == 400
    assert sentence in page.words
    assert not KilnJob.objects.exists()


def test_a_mould_that_holds_nothing_is_refused_in_a_sentence(town: Town, visit: Visits) -> None:
    bowl = Mould.objects.create(studio=town.flame, name="bowl", count=0, length_mm=150, width_mm=150)
    visitor = visit(town.instructor)

    page = visitor.post("/kiln-jobs/ask", **ASKED | {"route": "fuse-slump", "size0-mould": str(bowl.uid)})

    assert visitor.status == 400
    assert "bowl holds no piece: choose another mould" in page.words


def test_what_was_asked_for_is_changed_without_new_labels(town: Town, visit: Visits) -> None:
    job = a_job(town, title="Before")
    labels = set(Piece.objects.values_list("label", flat=True))
    visitor = visit(town.instructor)
    form = visitor.get(f"/kiln-jobs/{job.uid}/change")
    again = {"rows": "2", "title": "After", "size0-count": "4", "size0-length_mm": "150"}
    again |= {"size0-width_mm": "150", "size1-count": "2", "size1-length_mm": "120", "size1-round": "on"}

    visitor.post(f"/kiln-jobs/{job.uid}/change", **ASKED | again | {"size1-width_mm": "120"})

    job.refresh_from_db()
    assert form.all("input", name="title", value="Before")
    assert form.all("input", name="size1-count", value="2")
    assert job.title == "After"
    assert set(Piece.objects.values_list("label", flat=True)) == labels


def an_answer(town: Town, kiln: Equipment, **facts: Any) -> KilnAnswer:
    """Six dishes in one night, with the wash before it."""
    job = a_job(town, **facts)
    load = load_at(job, kiln, local(2, 10))
    wash = by_hand(load, Handwork.WASH_SHELVES, local(1, 10), 15)
    return answered(job, planned(load, handwork=[wash]))


def test_a_plan_is_read_with_its_nights_its_shelves_and_its_handwork(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    answer = an_answer(town, kiln)

    page = visit(town.instructor).get(f"/kiln-answers/{answer.uid}")

    assert "The last piece can be handed back from Thu 6 Mar, 08:30." in page.words
    assert "Proven: no plan is ready earlier." in page.words
    assert "Load from Wed 5 Mar, 10:00" in page.words
    assert "Wash the shelves Flame; for load 1, 6 pieces" in page.words
    assert "1 shelf is laid, and by the area of the pieces it cannot be done with fewer." in page.words
    assert len(page.all("svg", class_="shelf")) == 2
    assert len(page.all("svg", class_="held-strip")) == 1
    assert len(page.all("circle")) + len(page.all("rect", class_="shelf-piece")) == 6
    assert page.all("form", action=f"/kiln-answers/{answer.uid}/book")


def test_a_picture_of_a_shelf_says_what_stands_on_it(town: Town, visit: Visits, kiln: Equipment) -> None:
    page = visit(town.instructor).get(f"/kiln-answers/{an_answer(town, kiln).uid}")

    assert "Shelf 1 of kiln, 600 × 500 mm, with 10 mm free at its edge" in page.words
    assert "2: 180 mm from the left, 10 mm from the door" in page.words


def test_a_plan_is_booked_and_its_firings_stand_on_the_page_of_the_job(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    answer = an_answer(town, kiln)
    visitor = visit(town.instructor)

    page = visitor.post(f"/kiln-answers/{answer.uid}/book")

    assert visitor.last == f"/kiln-jobs/{answer.job.uid}"
    assert "Fair dishes: its firings are booked." in page.words
    assert "kiln, full fuse" in page.words
    assert "Wash the shelves" in page.words
    assert KilnJob.objects.get().status == KilnJobStatus.BOOKED


def test_whoever_comes_second_reads_that_nothing_was_booked_and_gets_a_fresh_answer(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    first, second = an_answer(town, kiln), an_answer(town, kiln, title="Others")
    visit(town.technician).post(f"/kiln-answers/{first.uid}/book")
    visitor = visit(town.instructor)

    page = visitor.post(f"/kiln-answers/{second.uid}/book")

    fresh = KilnAnswer.objects.order_by("-pk").first()
    assert fresh is not None
    assert visitor.last == f"/kiln-answers/{fresh.uid}"
    assert fresh.pk != second.pk
    assert "This plan can no longer be booked as it was found" in page.words
    assert "Nothing was booked. This is a fresh answer" in page.words
    assert KilnJob.objects.get(pk=second.job.pk).status == KilnJobStatus.ASKED


def test_a_plan_at_two_studios_says_for_each_how_many_it_fires_and_when_they_are_handed_back(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    job, far = a_job(town, studios=[town.flame, town.hot_shop]), far_kiln(town)
    answer, visitor = answered(job, split_plan(job, kiln, far)), visit(town.instructor)

    page = visitor.get(f"/kiln-answers/{answer.uid}")
    booked_job = visitor.post(f"/kiln-answers/{answer.uid}/book")

    labels = visitor.get(f"/kiln-jobs/{job.uid}/labels").words

    here, there = handed_back(job)
    assert (labels.count("Flame"), labels.count("Hot shop")) == (4, 2)
    for each, pieces in ((here, "4 pieces"), (there, "2 pieces")):
        since = when(each.at, each.studio.zone)
        assert f"{each.studio} fires {pieces}, which can be handed back there from {since}." in page.words
        assert f"To be collected at {each.studio} from {since}, {pieces}" in booked_job.words
    assert "Load 2, far kiln Hot shop" in page.words
    assert "Flame, Hot shop" in page.words


def test_an_answer_that_is_older_than_the_booking_of_its_job_is_for_reading(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    answer = an_answer(town, kiln)
    visitor = visit(town.instructor)
    visitor.post(f"/kiln-answers/{answer.uid}/book")
    KilnAnswer.objects.update(started_at=local(0, 8))

    page = visitor.get(f"/kiln-answers/{answer.uid}")

    assert "a plan is for reading" in page.words
    assert not page.all("form", action=f"/kiln-answers/{answer.uid}/book")


def test_cold_work_names_its_pieces_on_the_page_of_the_job(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    job, saw = a_job(town), town.equipment["saw"]
    load = load_at(job, kiln, local(1, 18))
    cold = by_hand(load, Handwork.COLD_WORK, local(4, 10), 30, saw, of=[0, 1])
    wash = by_hand(load, Handwork.WASH_SHELVES, local(1, 9), 15)
    booked(job, load, actor=town.instructor, handwork=[wash, cold])

    page = visit(town.instructor).get(f"/kiln-jobs/{job.uid}")

    first, second = job.pieces.filter(number__in=(1, 2)).order_by("number")
    assert f"saw, Flame; {first}, {second}" in page.words
    assert "Tue 4 Mar, 09:00–09:15, kiln, Flame" in page.words


def test_a_student_is_told_who_books(town: Town, visit: Visits, kiln: Equipment) -> None:
    job = a_job(town, town.student)
    answer = answered(job, planned(load_at(job, kiln, local(2, 10))))

    page = visit(town.student).get(f"/kiln-answers/{answer.uid}")

    assert "An instructor, a technician or a manager of the studio books it" in page.words
    assert not page.all("form", action=f"/kiln-answers/{answer.uid}/book")


def test_a_refusal_says_the_earliest_and_one_click_takes_it(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    job = a_job(town, due_at=local(2, 9))
    earliest = load_at(job, kiln, local(2, 10)).done
    refusal = {"code": "too-late", "sentence": "It cannot be ready by then.", "earliest": earliest}
    answer = KilnAnswer.objects.create(job=job, asked_by=job.owner, refusal=refusal, ended_at=local(0, 9))
    visitor = visit(town.instructor)

    page = visitor.get(f"/kiln-answers/{answer.uid}")
    visitor.post(f"/kiln-answers/{answer.uid}/due-later")

    job.refresh_from_db()
    assert "It cannot be ready by then." in page.words
    assert "Let it be due Thu 6 Mar, 08:30, the earliest that can be" in page.words
    assert job.due_at is not None
    assert job.due_at > local(3, 8)
    assert KilnAnswer.objects.count() == 2


def test_while_it_is_sought_the_best_so_far_is_said_and_taken(town: Town, visit: Visits) -> None:
    job = a_job(town)
    answer = KilnAnswer.objects.create(job=job, asked_by=job.owner, ready_at=local(4, 12))
    visitor = visit(town.instructor)

    page = visitor.get(f"/kiln-answers/{answer.uid}")
    after = visitor.post(f"/kiln-answers/{answer.uid}/stop")

    answer.refresh_from_db()
    assert "The best so far is ready Fri 7 Mar, 12:00." in page.words
    assert page.all("section", id="search", hx_trigger="every 2s")
    assert "It ends with the best so far in a moment." in after.words
    assert answer.stop_asked


def test_a_page_that_follows_is_shown_anew_once_there_is_an_answer(
    town: Town, visit: Visits, kiln: Equipment
) -> None:
    sought = KilnAnswer.objects.create(job=a_job(town), asked_by=town.instructor)
    found, follows = an_answer(town, kiln), {"HX-Request": "true"}
    client = visit(town.instructor).client

    assert "HX-Refresh" not in client.get(f"/kiln-answers/{sought.uid}", headers=follows)
    assert client.get(f"/kiln-answers/{found.uid}", headers=follows)["HX-Refresh"] == "true"


def test_a_search_that_has_been_silent_too_long_is_sought_again(town: Town, visit: Visits) -> None:
    job = a_job(town)
    answer = KilnAnswer.objects.create(job=job, asked_by=job.owner, alive_at=local(0, 8))

    page = visit(town.instructor).get(f"/kiln-answers/{answer.uid}")

    assert "The search broke off" in page.words
    assert page.all("form", action=f"/kiln-jobs/{job.uid}/seek")


def test_what_if_stands_beside_the_job_as_it_is(town: Town, visit: Visits, kiln: Equipment) -> None:
    answer = an_answer(town, kiln)
    visitor = visit(town.instructor)
    visitor.post(f"/kiln-answers/{answer.uid}/what-if", **{"if-more_pieces": "10"})
    more = KilnAnswer.objects.exclude(pk=answer.pk).get()
    KilnAnswer.objects.filter(pk=more.pk).update(plan=answer.plan, ended_at=local(0, 9))

    page = visitor.get(f"/kiln-answers/{more.uid}")

    assert more.what_if == {"more_pieces": 10}
    assert "10 pieces more" in page.words
    assert "This is for other pieces than the job has" in page.words
    assert page.all("a", href=f"/kiln-answers/{answer.uid}")


def test_a_what_if_without_anything_otherwise_is_refused(town: Town, visit: Visits, kiln: Equipment) -> None:
    answer = an_answer(town, kiln)
    visitor = visit(town.instructor)

    page = visitor.post(f"/kiln-answers/{answer.uid}/what-if")

    assert visitor.status == 400
    assert "Say what is to be otherwise." in page.words
    assert KilnAnswer.objects.count() == 1


def test_handwork_is_ticked_and_the_job_called_off(town: Town, visit: Visits, kiln: Equipment) -> None:
    answer = an_answer(town, kiln)
    visitor = visit(town.instructor)
    visitor.post(f"/kiln-answers/{answer.uid}/book")
    step = answer.job.steps.get()

    ticked = visitor.post(f"/job-steps/{step.uid}/done", done="yes")
    off = visitor.post(f"/kiln-jobs/{answer.job.uid}/call-off")

    assert "done Mon 3 Mar, 09:00 by Instructor" in ticked.words
    assert "Fair dishes is called off." in off.words
    assert KilnJob.objects.get().status == KilnJobStatus.CANCELLED


def test_labels_are_printed_one_for_each_piece(town: Town, visit: Visits) -> None:
    job = a_job(town)

    page = visit(town.instructor).get(f"/kiln-jobs/{job.uid}/labels")

    assert len(page.all("li", class_="piece-label")) == 6
    for label in Piece.objects.values_list("label", flat=True):
        assert label in page.words
    assert "No. 6" in page.words


def test_a_job_of_others_is_not_found(town: Town, visit: Visits) -> None:
    job = a_job(town)
    visitor = visit(town.other_student)

    for path in ("", "/labels", "/change"):
        visitor.get(f"/kiln-jobs/{job.uid}{path}")
        assert visitor.status == 404, path


def test_a_maker_sees_the_own_pieces_alone(town: Town, visit: Visits) -> None:
    job = a_job(town)
    mine, *_others = job.pieces.order_by("number")
    Piece.objects.filter(pk=mine.pk).update(maker=town.student)

    page = visit(town.student).get(f"/kiln-jobs/{job.uid}")

    assert page.all("a", href=f"/pieces/{mine.uid}")
    assert len(page.all("a", class_="label-code")) == 1
