"""Names of things that exist, put into well-formed requests, so that they reach the services."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from scheduling.models import (
    Actual,
    Collection,
    Firing,
    Message,
    OtherCalendar,
    Outage,
    PickUp,
    Session,
    Tick,
    WaitingPlace,
)
from scheduling.services.calibrating import fit_log
from scheduling.services.charges import book_charge
from scheduling.services.refills import record_refill
from studios.models import Mould, Person, Pot, Qualification
from tests.faces.api.conftest import Api
from tests.logs import cooling_log
from tests.services.kiln_work import a_job, answered, booked, load_at, planned, with_shelves
from tests.services.other_calendars import LINK, calendar
from tests.worlds import Town, local

PLATES: dict[str, Any] = {
    "sizes": [{"count": 1, "length_mm": 90, "width_mm": 90}],
    "glass": "",
    "thickness_mm": 6,
}


def real_values(town: Town, teacher: Api, api: Api, person: Person) -> dict[str, list[Any]]:
    """Names that exist, so that requests reach the services; uids by the resource they belong to."""
    session = teacher.book("beads", "flame").json()
    teacher.book("blowing", "hot-shop", day=2)
    weekly = {"course": "beads", "studio": "flame", "days": ["2031-04-01", "2031-04-08"], "time": "18:00"}
    series = teacher.post("series/", **weekly).json()
    annealer = town.equipment["annealer 1"]
    fitted = fit_log(actor=town.technician, equipment=annealer, log=cooling_log(5.0), file_name="night.csv")
    furnace, oxygen = town.equipment["furnace"], town.supplies["oxygen"]
    Pot.objects.create(furnace=furnace, capacity_kg=100, floor_kg=40)
    charge = book_charge(actor=town.technician, furnace=furnace, starts_at=local(6, 8))
    oxygen.content = 9000
    oxygen.save()
    refill = record_refill(actor=town.technician, supply=oxygen, at=local(8, 9))
    Qualification.objects.get_or_create(person=person, studio=town.flame, kind="torch")
    seat = api.bench(town.torches[1]).json()["uid"]
    return {
        "course": [town.courses["beads"].slug, town.courses["blowing"].slug],
        "studio": ["flame", "hot-shop"],
        "session": [session["uid"]],
        "torch": [str(town.torches[number].uid) for number in (0, 7)],
        "equipment": [str(town.equipment["kiln"].uid)],
        "instructor": [str(town.instructor.uid)],
        "person": [str(town.student.uid), str(town.instructor.uid)],
        "starts_at": [local(3, 12).isoformat()],
        "ends_at": [local(3, 13).isoformat()],
        "from": [local(0, 0).isoformat()],
        "to": [local(9, 0).isoformat()],
        "first_day": ["2031-03-08"],
        "last_day": ["2031-03-09"],
        "days": ["2031-03-10", "2031-03-17"],
        "skip": ["2031-03-15"],
        "time": ["18:00", "10:30"],
        "sessions": [session["uid"]],
        "series": [series["uid"]],
        "firings": [session["firings"][0]["uid"]],
        **what_came_of_it(town, session["uid"], person),
        **work_for_the_kilns(town, person),
        "rosters": [session["uid"]],
        "seats": [seat],
        "paid-seats": [seat],
        "other-calendars": [str(OtherCalendar.objects.create(person=person, label="home", link=LINK).uid)],
        "link": [f"{LINK}?more"],
        "content": [calendar().decode()],
        "feed-keys": [api.post("feed-keys/", label="phone").json()["uid"]],
        "studios": ["flame", "hot-shop"],
        "courses": ["beads", "blowing"],
        "glasses": ["soft-104", "boro-33"],
        "glass": ["fusing-90"],
        "problems": ["no-start", "not-found"],
        "log": [cooling_log(5.0)],
        "calibrations": [str(fitted.uid)],
        "furnace": [str(furnace.uid)],
        "charges": [str(charge.uid)],
        "refills": [str(refill.uid)],
        "messages": [str(Message.objects.earliest("pk").uid)],
        "supply": [str(oxygen.uid)],
        "at": [local(2, 9).isoformat()],
    }


def what_came_of_it(town: Town, session_uid: str, person: Person) -> dict[str, list[Any]]:
    """Something recorded of a firing, its pieces on a shelf, somebody waiting, and an outage elsewhere."""
    session, firing, at = Session.objects.get(uid=session_uid), Firing.objects.earliest("pk"), local(0, 9)
    lit = Actual.objects.create(firing=firing, kind="lit", at=at, recorded_by=town.technician)
    shelf = PickUp.objects.create(
        load=firing.loads.get(), shelf="shelf 3", ready_at=at, recorded_by=town.technician
    )
    pieces = Collection.objects.create(pick_up=shelf, person=person)
    waiting = WaitingPlace.objects.create(session=session, person=person)
    outage = Outage.objects.create(
        equipment=town.equipment["saw"], starts_at=local(8, 9), ends_at=local(8, 10), reason="new belt"
    )
    tick = Tick.objects.create(
        studio=town.flame, duty="load/1/2", said="load it", due_at=at, ticked_by=town.technician
    )
    return {
        "actuals": [str(lit.uid)],
        "ticks": [str(tick.uid)],
        "collections": [str(pieces.uid)],
        "waiting-places": [str(waiting.uid)],
        "outages": [str(outage.uid)],
    }


def work_for_the_kilns(town: Town, person: Person) -> dict[str, list[Any]]:
    """A kiln job of the person with a plan, one that is booked and has room, its pieces, and a mould."""
    kiln, of_class = with_shelves(town), Firing.objects.earliest("pk")
    asked, host = a_job(town, person), a_job(town, shares_space=True)
    answer = answered(asked, planned(load_at(asked, kiln, local(9, 10))))
    booked(host, load_at(host, kiln, local(7, 10)), actor=town.technician)
    mould = Mould.objects.create(studio=town.flame, name="bowl", length_mm=150, width_mm=150)
    return {
        "kiln-jobs": [str(asked.uid), str(host.uid)],
        "kiln-answers": [str(answer.uid)],
        "pieces": [str(piece.uid) for piece in asked.pieces.order_by("number")],
        "open-firings": [str(host.loads.get().firing.uid), str(of_class.uid)],
        "job": [str(asked.uid)],
        "mould": [str(mould.uid)],
        "firing": [str(host.loads.get().firing.uid), str(of_class.uid)],
        "arrives_at": [local(5, 9).isoformat()],
    }


def fill_in(case: Any, real: dict[str, list[Any]], choose: Any) -> None:
    """Put real names where the request has names of that kind; often send a body that is good as a whole."""
    times = {"starts_at": "", "ends_at": ""}
    good: dict[str, list[dict[str, Any]]] = {
        "sessions": [{"course": "", "studio": "", "starts_at": ""}] * 2,
        "seats": [{"session": ""}, {"torch": "", **times}],
        "series": [{"course": "", "studio": "", "days": [], "time": ""}] * 2,
        "outages": [{"equipment": "", "reason": "new shelf", **times}],
        "refills": [{"supply": "", "at": ""}],
        "charges": [{"furnace": "", "starts_at": ""}],
        "calibrations": [{"equipment": "", "log": "", "file_name": "night.csv"}],
        "kiln-jobs": [{**PLATES, "title": "Plates", "route": "fuse", "arrives_at": "", "studios": ["flame"]}],
        "open-firings": [{**PLATES, "firing": ""}] * 2,
        "pieces": [{"pieces": [], "place": "table"}, {"damage": "a chip"}],
    }
    resource = case.operation.path.split("/")[2]
    for name in case.path_parameters or {}:
        case.path_parameters[name] = choose(st.sampled_from(real[resource]))
    if isinstance(case.body, dict) and resource in good:
        case.body = choose(st.sampled_from([*good[resource], case.body]))
    for part in (case.query or {}, case.body if isinstance(case.body, dict) else {}):
        for name in sorted(part.keys() & real.keys()):
            value = choose(st.sampled_from(real[name]))
            part[name] = [value] if isinstance(part[name], list) else value
