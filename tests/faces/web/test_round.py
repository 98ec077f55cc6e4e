"""The day's round on a phone: what is to be done is pressed, what happened is recorded in the same step."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.urls import reverse

from scheduling.models import Actual, ActualKind, Firing, Outage, Session, Tick
from studios.models import Person
from tests.faces.web.conftest import Reader, Visit
from tests.services.test_booking import book, firing_of
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
HOT_SHOP = {"studio": "hot-shop"}
PEOPLE = ("student", "instructor", "technician", "manager")


@pytest.fixture
def session(town: Town) -> Iterator[Session]:
    """A blowing class on Tuesday at six; it is five."""
    with time_machine.travel(local(0, 9), tick=False) as clock:
        found = book(town, "blowing", local(1, 18))
        clock.move_to(local(1, 17))
        yield found


@pytest.fixture
def firing(session: Session) -> Firing:
    return firing_of(session)


def duty(page: Reader, begins: str) -> dict[str, str]:
    """What the form of a duty sends, by how its key begins."""
    (key,) = (one["value"] for one in page.all("input", name="duty") if one["value"].startswith(begins))
    return {"duty": key, "day": "2031-03-04", "did": "tick"}


def test_a_duty_is_ticked_in_one_step_and_taken_back_in_one(
    town: Town, session: Session, visit: Visits
) -> None:
    visitor = visit(town.technician)
    page = visitor.get("/round", **HOT_SHOP)
    assert "It is 17:00 CST" in page.words

    ticked = visitor.post(
        "/round/hot-shop/tick", **duty(page, f"light:{session.uid}:{town.equipment['hole 1'].pk}:")
    )
    assert "Ticked Tue 4 Mar, 17:00 by Technician." in ticked.words
    back = visitor.post("/round/hot-shop/take-back", tick=str(Tick.objects.get().uid))

    assert "Ticked" not in back.words
    assert Tick.objects.get().taken_back_by == town.technician


def test_what_is_switched_on_is_recorded_and_ticked_together(
    town: Town, session: Session, firing: Firing, visit: Visits
) -> None:
    visitor = visit(town.instructor)
    page = visitor.get("/round", **HOT_SHOP)

    page = visitor.post(
        "/round/hot-shop/tick", **(duty(page, "switch-on:") | {"did": "record", "at": "16:20"})
    )

    assert (firing.actuals.get().kind, firing.actuals.get().at) == (ActualKind.LIT, local(1, 16, 20))
    assert "Recorded: Lit Tue 4 Mar, 16:20, by Instructor." in page.words
    assert not page.all("input", name="duty", value=Tick.objects.get().duty)


def test_a_time_to_come_is_refused_beside_its_duty(town: Town, session: Session, visit: Visits) -> None:
    visitor = visit(town.technician)
    page = visitor.get("/round", **HOT_SHOP)

    page = visitor.post(
        "/round/hot-shop/tick", **(duty(page, "switch-on:") | {"did": "record", "at": "19:00"})
    )

    assert visitor.status == 409
    assert "this time is to come" in page.words
    assert not Tick.objects.exists()


def test_what_is_hot_says_why_and_until_when_and_takes_a_reading(
    town: Town, session: Session, firing: Firing, visit: Visits
) -> None:
    with time_machine.travel(local(1, 19), tick=False):
        visitor = visit(town.technician)
        page = visitor.get("/round", **HOT_SHOP)
        assert "blowing: anneal, Instructor" in page.words
        assert "cool enough to open" in page.words
        assert page.all("input", name="read_c", inputmode="decimal")

        page = visitor.post(
            "/round/hot-shop/happened", firing=str(firing.uid), kind="temperature", read_c="470"
        )

    actual = Actual.objects.get()
    assert (actual.read_c, actual.at) == (470.0, local(1, 19))
    assert "annealer 1: Temperature read, recorded." in page.words


def test_a_reading_that_makes_no_sense_is_refused_where_it_was_typed(
    town: Town, session: Session, firing: Firing, visit: Visits
) -> None:
    with time_machine.travel(local(1, 19), tick=False):
        visitor = visit(town.technician)
        page = visitor.post(
            "/round/hot-shop/happened", firing=str(firing.uid), kind="temperature", read_c="4700"
        )

    assert visitor.status == 409
    assert "read it again" in page.words
    assert page.all("input", name="read_c", value="4700")


def test_a_time_of_the_evening_told_after_midnight_is_yesterdays(
    town: Town, session: Session, firing: Firing, visit: Visits
) -> None:
    with time_machine.travel(local(2, 0, 30), tick=False):
        visit(town.technician).post(
            "/round/hot-shop/happened", firing=str(firing.uid), kind="power-lost", at="23:40"
        )

    assert Actual.objects.get().at == local(1, 23, 40)


def test_yesterdays_unticked_duties_stay_on_top(town: Town, session: Session, visit: Visits) -> None:
    with time_machine.travel(local(2, 9), tick=False):
        words = visit(town.technician).get("/round", **HOT_SHOP).words

    left, today = words.index("nobody has ticked this"), words.index("What is to be done")
    assert left < words.index("Light hole 1") < today < words.index("Unload annealer 1")


def test_unloading_leads_to_the_shelves_and_is_done_by_them(
    town: Town, session: Session, firing: Firing, visit: Visits
) -> None:
    with time_machine.travel(local(2, 12), tick=False):
        visitor = visit(town.technician)
        address = reverse("unload", args=[firing.uid])
        assert visitor.get("/round", **HOT_SHOP).all("a", href=address)

        visitor.post(address, **{f"shelf-{firing.loads.get().pk}": "shelf 3"})
        page = visitor.get("/round", **HOT_SHOP)

    assert "Recorded: Unloaded Wed 5 Mar, 12:00, by Technician." in page.words
    assert not page.all("a", href=address)


def test_a_second_load_lies_where_the_first_does_unless_it_is_said(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        first = book(town, "blowing", local(1, 14))
        book(town, "blowing", local(1, 18), town.other_instructor)
        firing = firing_of(first)
        loads = list(firing.loads.order_by("pk"))
        clock.move_to(local(2, 20))

        visit(town.technician).post(
            reverse("unload", args=[firing.uid]), **{f"shelf-{loads[0].pk}": "shelf 2", "at": "19:30"}
        )

    assert len(loads) == 2
    assert [load.pick_up.shelf for load in firing.loads.all()] == ["shelf 2", "shelf 2"]
    assert firing.actuals.get().at == local(2, 19, 30)


def test_the_hours_offered_for_a_repair_break_nothing(town: Town, session: Session, visit: Visits) -> None:
    visitor = visit(town.technician)
    address = reverse("enter-outage", args=[town.equipment["annealer 1"].uid])
    page = visitor.get(address, hours="2")
    first = next(one["href"] for one in page.all("a") if one.get("href", "").startswith("?hours=2"))

    filled = visitor.get(address + first.split("#")[0])
    sent = {
        name: filled.all("input", name=name)[0]["value"]
        for name in ("first_day", "first_time", "last_day", "last_time")
    }
    done = visitor.post(address, **sent, reason="a new element")

    assert "It breaks nothing that is booked" in done.words
    outage, held = Outage.objects.get(), session.loads.get().firing.occupancy
    assert outage.starts_at >= held.ends_at or outage.ends_at <= held.starts_at


def test_a_day_to_come_is_read_and_not_ticked(town: Town, session: Session, visit: Visits) -> None:
    page = visit(town.technician).get("/round", **HOT_SHOP, day="2031-03-05")

    assert "Unload annealer 1" in page.words
    assert "This day is to come" in page.words
    assert not page.all("input", name="duty")


def test_the_roster_tells_the_class_in_order(town: Town, session: Session, visit: Visits) -> None:
    words = visit(town.instructor).get(f"/sessions/{session.uid}/roster").words

    order = ["Light hole 1", "The class begins", "The class ends", "Unload annealer 1", "can be collected"]
    places = [words.index(said) for said in order]
    assert places == sorted(places)


def test_the_way_to_the_round_is_shown_to_whoever_goes_it(town: Town, visit: Visits) -> None:
    shown = {who: bool(visit(town.people[who]).get("/my-seats").all("a", href="/round")) for who in PEOPLE}

    assert shown == {"student": False, "instructor": True, "technician": True, "manager": True}
