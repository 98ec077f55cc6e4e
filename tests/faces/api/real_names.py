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
from studios.models import Person, Pot, Qualification
from tests.faces.api.conftest import Api
from tests.logs import cooling_log
from tests.services.other_calendars import LINK, calendar
from tests.worlds import Town, local


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
        "firing": [session["firings"][0]["uid"]],
        **what_came_of_it(town, session["uid"], person),
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
