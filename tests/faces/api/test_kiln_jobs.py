"""Kiln jobs through the API: asked, answered, booked; open shelf space; pieces handed over."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from scheduling.models import Piece
from studios.models import Equipment, Mould
from tests.faces.api.conftest import Api, Speak, refused
from tests.services.kiln_work import with_shelves
from tests.services.test_booking import book as book_class
from tests.worlds import Town, local

DISHES = [{"count": 4, "length_mm": 100, "width_mm": 100, "makers": ["A visitor"]}]


@pytest.fixture
def kiln(town: Town) -> Iterator[Equipment]:
    with time_machine.travel(local(0, 9), tick=False):
        yield with_shelves(town)


def ask(api: Api, **more: Any) -> Any:
    """Ask for four small dishes to be fused."""
    job = {
        "title": "dishes",
        "sizes": DISHES,
        "glass": "fusing-90",
        "thickness_mm": 6,
        "route": "fuse",
        "arrives_at": local(1, 9).isoformat(),
        "studios": ["flame"],
    }
    return api.post("kiln-jobs/", **{**job, **more})


def sought(api: Api, callbacks: Any, job: str, **body: Any) -> dict[str, Any]:
    """Seek a plan; the search has ended when this returns."""
    with callbacks(execute=True):
        made = api.post(f"kiln-jobs/{job}/seek/", **body)
    assert made.status_code == 202, made.content
    found: dict[str, Any] = api.get(f"kiln-answers/{made.json()['uid']}/").json()
    return found


def test_a_job_is_asked_answered_and_booked_and_its_firing_has_its_hours(
    kiln: Equipment, instructor: Api, django_capture_on_commit_callbacks: Any
) -> None:
    job = ask(instructor).json()
    found = sought(instructor, django_capture_on_commit_callbacks, job["uid"])

    assert (job["status"], job["loads"]) == ("asked", [])
    assert found["stands"] == "found"
    (load,) = found["plan"]["loads"]
    assert load["kiln"]["uid"] == str(kiln.uid)
    assert load["begins_at"] < load["closed_at"] < load["cool_at"] <= load["unload_at"] < load["done_at"]
    labels = {stand["piece"] for shelf in load["shelves"] for stand in shelf["stands"]}
    assert labels == set(Piece.objects.values_list("label", flat=True))
    assert sum(found["plan"]["cost_of"]) == pytest.approx(found["plan"]["cost"], abs=0.01)

    booked = instructor.post(f"kiln-answers/{found['uid']}/book/")

    assert booked.status_code == 200
    assert (booked.json()["status"], booked.json()["ready_at"]) == ("booked", load["done_at"])
    firing = instructor.get(f"firings/{booked.json()['loads'][0]['firing']}/").json()
    assert (firing["cool_at"], firing["unload_at"]) == (load["cool_at"], load["unload_at"])


def test_what_of_a_booked_job_has_not_begun_is_sought_and_booked_anew(
    kiln: Equipment, town: Town, instructor: Api, django_capture_on_commit_callbacks: Any
) -> None:
    job = ask(instructor).json()["uid"]
    first = sought(instructor, django_capture_on_commit_callbacks, job)
    before = instructor.post(f"kiln-answers/{first['uid']}/book/").json()
    kiln.outages.create(starts_at=local(1, 9), ends_at=local(5, 9), reason="an element")

    answer = sought(instructor, django_capture_on_commit_callbacks, job)
    after = instructor.post(f"kiln-answers/{answer['uid']}/book/").json()

    (load,) = answer["plan"]["loads"]
    assert [before["loads"][0]["firing"]] != [each["firing"] for each in after["loads"]]
    assert (after["ready_at"], after["sequence"]) == (load["done_at"], before["sequence"] + 1)
    ready = [{"studio": "flame", "pieces": 4, "ready_at": load["done_at"]}]
    assert answer["plan"]["handed_back"] == after["handed_back"] == ready
    (wash,) = after["steps"]
    assert (wash["firing"], wash["of"]) == (after["loads"][0]["firing"], [])
    assert answer["plan"]["handwork"][0]["studio"] == "flame"
    assert instructor.post(f"kiln-jobs/{job}/replan/").status_code == 404


def test_of_two_who_book_the_same_night_one_is_told_that_the_plan_is_gone(
    kiln: Equipment, town: Town, speak: Speak, django_capture_on_commit_callbacks: Any
) -> None:
    one, other = speak(town.instructor), speak(town.other_instructor)
    jobs = [ask(api).json()["uid"] for api in (one, other)]
    first, second = (
        sought(api, django_capture_on_commit_callbacks, job)
        for api, job in zip((one, other), jobs, strict=True)
    )

    assert one.post(f"kiln-answers/{first['uid']}/book/").status_code == 200
    refused(other.post(f"kiln-answers/{second['uid']}/book/"), 409, "plan-gone")
    fresh = sought(other, django_capture_on_commit_callbacks, jobs[1])

    assert fresh["ready_at"] > second["ready_at"]
    assert other.post(f"kiln-answers/{fresh['uid']}/book/").status_code == 200


def test_a_plan_with_something_otherwise_is_read_beside_the_first(
    kiln: Equipment, instructor: Api, django_capture_on_commit_callbacks: Any
) -> None:
    job = ask(instructor).json()["uid"]
    first = sought(instructor, django_capture_on_commit_callbacks, job)

    thick = sought(instructor, django_capture_on_commit_callbacks, job, what_if={"thickness_mm": 12})
    none = sought(
        instructor, django_capture_on_commit_callbacks, job, what_if={"without_kilns": [str(kiln.uid)]}
    )

    assert thick["what_if"] == {"thickness_mm": 12}
    assert thick["plan"]["loads"][0]["cool_at"] > first["plan"]["loads"][0]["cool_at"]
    assert (none["stands"], none["plan"]) == ("refused", None)
    assert none["refusal"]["code"] == "no-kiln"
    refused(instructor.post(f"kiln-answers/{none['uid']}/book/"), 409, "over")


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"sizes": []}, "sizes"),
        ({"sizes": [{"count": 0, "length_mm": 100, "width_mm": 100}]}, "sizes.0.count"),
        ({"sizes": [{"count": 1, "length_mm": 1.5, "width_mm": 100}]}, "sizes.0.length_mm"),
        ({"glass": "sugar"}, "glass"),
        ({"route": "boil"}, "route"),
        ({"studios": ["nowhere"]}, "studios.0"),
        ({"due_at": "2031-03-01T00:00:00Z"}, "due_at"),
    ],
)
def test_what_makes_no_sense_is_refused_beside_its_field(
    kiln: Equipment, instructor: Api, more: dict[str, Any], field: str
) -> None:
    answer = ask(instructor, **more)

    assert answer.status_code == 400
    assert field in {error["field"] for error in answer.json()["errors"]}
    assert not Piece.objects.exists()


def test_glasses_whose_expansions_differ_are_never_fused(kiln: Equipment, instructor: Api) -> None:
    problem = refused(ask(instructor, mixed_with=["soft-104"]), 400, "invalid-input", "mixed_with")

    assert "expand differently" in problem["detail"]


def test_a_piece_larger_than_every_shelf_is_refused_with_the_largest(
    kiln: Equipment, instructor: Api, django_capture_on_commit_callbacks: Any
) -> None:
    job = ask(instructor, sizes=[{"count": 1, "length_mm": 900, "width_mm": 700}]).json()["uid"]

    found = sought(instructor, django_capture_on_commit_callbacks, job)

    assert found["refusal"]["code"] == "piece-too-large"
    assert "900" in found["refusal"]["sentence"]


def test_a_date_that_cannot_be_met_is_refused_with_the_earliest_that_can(
    kiln: Equipment, instructor: Api, django_capture_on_commit_callbacks: Any
) -> None:
    due = local(1, 12).isoformat()
    job = ask(instructor, due_at=due).json()["uid"]

    found = sought(instructor, django_capture_on_commit_callbacks, job)

    assert found["refusal"]["code"] == "too-late"
    assert found["refusal"]["earliest_at"] > local(1, 12).astimezone().isoformat()[:10]


def test_a_student_adds_pieces_to_a_firing_that_has_room(
    kiln: Equipment, instructor: Api, student: Api, django_capture_on_commit_callbacks: Any
) -> None:
    job = ask(instructor, shares_space=True).json()["uid"]
    answer = sought(instructor, django_capture_on_commit_callbacks, job)
    instructor.post(f"kiln-answers/{answer['uid']}/book/")

    (room,) = student.get("open-firings/").json()["results"]
    tile = [{"count": 1, "length_mm": 90, "width_mm": 90}]
    body = {"firing": room["firing"], "sizes": tile, "glass": "fusing-90", "thickness_mm": 6}
    added = student.post("open-firings/", **body)

    assert added.status_code == 201, added.content
    assert added.json()["status"] == "booked"
    refused(student.post("open-firings/", **{**body, "thickness_mm": 12}), 409, "no-shelf-space")
    assert student.get("pieces/").json()["count"] == 1


def test_a_class_opens_its_firing_and_another_class_adds_to_it(
    town: Town, kiln: Equipment, instructor: Api, student: Api
) -> None:
    tiles = book_class(town, "tiles", local(1, 18))
    firing = str(tiles.loads.get().firing.uid)
    plates = {
        "firing": firing,
        "sizes": [{"count": 1, "length_mm": 90, "width_mm": 90}],
        "glass": "fusing-90",
        "thickness_mm": 6,
    }
    refused(student.post("open-firings/", **plates), 409, "no-shelf-space")
    refused(student.post(f"open-firings/{firing}/open/"), 403, "not-allowed")
    refused(instructor.post(f"open-firings/{firing}/open/", shelves_kept=2), 400, "invalid-input")

    opened = instructor.post(f"open-firings/{firing}/open/", until=local(1, 12).isoformat())
    (room,) = student.get("open-firings/").json()["results"]
    added = instructor.post("open-firings/", session=str(tiles.uid), **plates)
    closed = instructor.post(f"open-firings/{firing}/close/")

    assert opened.json()["shelves_kept"] == 1
    assert (room["shelves"], room["further_shelves"], room["shelves_kept"]) == (1, 1, 1)
    assert added.json()["title"] == "tiles"
    assert [step["does"] for step in added.json()["steps"]] == ["wash-shelves"]
    assert closed.json()["takes_more_until"] is None
    refused(student.post("open-firings/", session=str(tiles.uid), **plates), 400, "invalid-input")


def test_pieces_are_put_somewhere_and_damage_is_noted(kiln: Equipment, instructor: Api, student: Api) -> None:
    ask(instructor)
    first, *others = instructor.get("pieces/").json()["results"]

    put = instructor.post("pieces/put/", pieces=[first["uid"]], place="table by the door")
    noted = instructor.post(f"pieces/{first['uid']}/damage/", damage="a chip at one corner")

    assert put.status_code == 204
    assert (noted.json()["place"], noted.json()["damage"]) == ("table by the door", "a chip at one corner")
    refused(instructor.post("pieces/hand-over/", pieces=[others[0]["uid"]]), 409, "over")
    assert student.get("pieces/").json()["count"] == 0
    assert student.get(f"pieces/{first['uid']}/").status_code == 404


def test_the_moulds_of_a_studio_are_listed(town: Town, student: Api) -> None:
    mould = Mould.objects.create(studio=town.flame, name="bowl", count=3, length_mm=150, width_mm=150)

    (found,) = student.get("moulds/", studio="flame").json()["results"]

    assert (found["uid"], found["count"], found["holds"]) == (str(mould.uid), 3, 1)
