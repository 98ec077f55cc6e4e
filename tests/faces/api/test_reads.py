"""What the API shows: lists in pages and in a stable order, details with an ETag, and never a primary key."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from scheduling.models import Occupancy, Outage
from tests.faces.api.conftest import Api, refused
from tests.worlds import Town, local


def names(response: Any, key: str = "name") -> list[Any]:
    return [row[key] for row in response.json()["results"]]


def keys_in(value: Any) -> set[str]:
    """Every name in a JSON value."""
    if isinstance(value, dict):
        return set(value).union(*(keys_in(inner) for inner in value.values()))
    return set().union(*(keys_in(inner) for inner in value)) if isinstance(value, list) else set()


def test_studios_come_with_their_hours_and_the_readers_roles(instructor: Api) -> None:
    studio = instructor.get("studios/flame/").json()

    assert studio["time_zone"] == "America/Chicago"
    assert studio["my_roles"] == ["instructor"]
    assert len(studio["staffed_hours"]) == 7
    assert studio["bench_hours"][0] == {"weekday": 0, "opens": "10:00", "closes": "21:00"}
    assert names(instructor.get("studios/"), "slug") == ["flame", "hot-shop"]


def test_equipment_is_found_by_studio_and_kind(instructor: Api, town: Town) -> None:
    assert names(instructor.get("equipment/", studio="hot-shop", kind="annealer")) == [
        "annealer 1",
        "annealer 2",
    ]
    assert len(names(instructor.get("equipment/", kind="torch"))) == 8

    bench = instructor.get(f"equipment/{town.equipment['bench 1'].uid}/").json()
    hole = instructor.get(f"equipment/{bench['station']}/").json()

    assert hole["name"] == "hole 1"
    assert hole["thermal_record"]["tau_h"] == 0.8
    assert hole["draws"] == [
        {"supply": str(town.supplies["gas"].uid), "name": "gas", "amount": 60.0, "unit": "kW"}
    ]
    assert bench["thermal_record"] is None


def test_supplies_glasses_and_courses(instructor: Api) -> None:
    assert names(instructor.get("supplies/", studio="flame")) == ["kiln feeder", "oxygen"]
    assert instructor.get("glasses/soft-104/").json()["annealing_c"] == 507
    assert len(names(instructor.get("glasses/"))) == 4
    assert names(instructor.get("courses/", studio="hot-shop"), "slug") == ["blowing", "paperweights"]
    assert instructor.get("courses/beads/").json()["needs"] == [
        {"kind": "annealer", "count": 1},
        {"kind": "torch", "count": 5},
    ]


@pytest.mark.parametrize("path", ["studios/nowhere/", "glasses/lead/", "courses/knitting/"])
def test_what_is_not_there_is_not_found(instructor: Api, path: str) -> None:
    refused(instructor.get(path), 404, "not-found")


def test_pages_follow_one_another(instructor: Api) -> None:
    found, path = [], "/api/equipment/?limit=5"
    while path:
        page = instructor.client.get(path).json()
        found += [row["uid"] for row in page["results"]]
        path = page["next"]

    assert page["count"] == len(found) == len(set(found)) == 20
    assert page["previous"].endswith("/api/equipment/?limit=5&offset=10")
    assert found == [row["uid"] for row in instructor.get("equipment/", limit=200).json()["results"]]


def test_what_has_not_changed_is_not_sent_again(instructor: Api, student: Api) -> None:
    path = f"sessions/{instructor.book('beads', 'flame').json()['uid']}/"
    tag = instructor.get(path).headers["ETag"]

    for known in (tag, f"W/{tag}", f'"other", {tag}', "*"):
        again = instructor.get(path, headers={"If-None-Match": known})
        assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", tag)

    student.post("seats/", session=path.split("/")[1])
    changed = instructor.get(path, headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag
    assert "private" in changed.headers["Cache-Control"]


def test_sessions_are_found_by_time_place_and_person(instructor: Api, student: Api, town: Town) -> None:
    blowing = instructor.book().json()["uid"]
    beads = instructor.book("beads", "flame", day=2).json()["uid"]
    student.post("seats/", session=beads)

    def found(api: Api, **query: Any) -> list[Any]:
        return names(api.get("sessions/", **query), "uid")

    assert found(instructor) == [blowing, beads]
    assert found(instructor, studio="flame") == [beads]
    assert found(instructor, instructor=str(town.instructor.uid)) == [blowing, beads]
    assert found(instructor, instructor=str(town.other_instructor.uid)) == []
    assert found(instructor, mine="true") == [blowing, beads]
    assert found(student, mine="true") == [beads]
    assert found(student, mine="false") == [blowing]


def test_windows_are_half_open(instructor: Api) -> None:
    instructor.book()
    begins, ends = local(1, 18).isoformat(), local(1, 21).isoformat()

    assert names(instructor.get("sessions/", to=begins)) == []
    assert names(instructor.get("sessions/", from_=ends)) == []
    assert names(instructor.get("sessions/", from_=begins, to=ends)) == ["blowing"]


def test_a_session_shows_all_that_it_holds_and_its_night(instructor: Api) -> None:
    session = instructor.get(f"sessions/{instructor.book().json()['uid']}/").json()

    held = {row["equipment"]["name"] for row in session["held"]}
    assert held == {"furnace", "hole 1", "bench 1", "warmer 1"}
    (firing,) = session["firings"]
    kinds = [phase["kind"] for phase in firing["occupancy"]["phases"]]
    assert kinds[:5] == ["heat-up", "holding", "soak", "annealing", "cooling"]
    assert kinds[-1] == "unloading"
    assert firing["last_in_at"] == session["ends_at"]


def test_a_firing_shows_its_program_its_loads_and_its_moments(instructor: Api) -> None:
    instructor.book()
    (line,) = instructor.get("firings/", studio="hot-shop", status="booked").json()["results"]

    firing = instructor.get(f"firings/{line['uid']}/").json()

    moments = [firing[name] for name in ("at_hold_at", "last_in_at", "cool_at", "unload_at")]
    assert moments == sorted(moments)
    assert [segment["phase"] for segment in firing["segments"]][-1] == "cooling"
    assert {"phase", "target_c", "rate_c_per_h", "hold_min", "governed_by"} <= firing["segments"][0].keys()
    assert [(load["pieces"], load["glass"]) for load in firing["loads"]] == [(6, "studio-96")]
    assert firing["occupancy"]["firing"] == firing["uid"]
    assert names(instructor.get("firings/", equipment=firing["equipment"]["uid"]), "uid") == [firing["uid"]]
    assert names(instructor.get("firings/", studio="flame"), "uid") == []


def test_what_is_held_at_a_studio_in_a_stretch_of_time(instructor: Api, town: Town) -> None:
    instructor.book()
    window = {"studio": "hot-shop", "from_": local(1, 0).isoformat(), "to": local(3, 0).isoformat()}

    rows = instructor.get("occupancies/", **window).json()["results"]

    assert len(rows) == Occupancy.objects.count() == 5
    assert all(row["phases"] for row in rows)
    assert [row["starts_at"] for row in rows] == sorted(row["starts_at"] for row in rows)
    furnace = instructor.get("occupancies/", **window, equipment=str(town.equipment["furnace"].uid)).json()
    assert [row["equipment"]["name"] for row in furnace["results"]] == ["furnace"]


def test_no_answer_carries_a_primary_key(instructor: Api, student: Api, town: Town) -> None:
    uid = instructor.book("beads", "flame").json()["uid"]
    student.post("seats/", session=uid)
    Outage.objects.create(
        equipment=town.equipment["kiln"], starts_at=local(1, 9), ends_at=local(1, 10), reason="new shelves"
    )
    window = {"studio": "flame", "from_": local(0, 0).isoformat(), "to": local(9, 0).isoformat()}
    lists = [
        "studios/",
        "equipment/",
        "supplies/",
        "glasses/",
        "courses/",
        "sessions/",
        "firings/",
        "outages/",
    ]

    shown = [instructor.get(path).json() for path in [*lists, "me/", f"sessions/{uid}/"]]
    shown += [student.get("seats/").json(), instructor.get("occupancies/", **window).json()]

    assert keys_in(shown).isdisjoint({"id", "pk"})
    assert all(page["results"] for page in shown if "results" in page)


@pytest.mark.parametrize("path", ["sessions/", "firings/", "seats/", "occupancies/", "outages/"])
def test_a_longer_list_asks_the_database_no_more_often(town: Town, instructor: Api, path: str) -> None:
    window = {"studio": "flame", "from_": local(0, 0).isoformat(), "to": local(12, 0).isoformat()}
    query = window if path == "occupancies/" else {}

    def grow(day: int) -> None:
        instructor.book("beads", "flame", day=day)
        instructor.bench(town.torches[7], day=day)
        Outage.objects.create(
            equipment=town.equipment["kiln"],
            starts_at=local(day, 9),
            ends_at=local(day, 10),
            reason="shelves",
        )

    def asked() -> tuple[int, int]:
        with CaptureQueriesContext(connection) as queries:
            count = instructor.get(path, **query).json()["count"]
        return count, len(queries)

    grow(1)
    few, first = asked()
    for day in (3, 5, 7):
        grow(day)
    many, second = asked()

    assert many > few > 0
    assert second == first
