"""A glory hole used earlier is still warm; when that session goes, what leant on its heat is made good."""

from __future__ import annotations

import datetime as dt
from math import exp, log

import pytest

from scheduling.models import Message, Occupancy, Outage, Session
from scheduling.services.cancelling import cancel_session
from studios.models import StaffedHours
from tests.services.test_booking import book
from tests.worlds import HOLE, Town, local

pytestmark = pytest.mark.django_db


def hole(session: Session) -> Occupancy:
    """The glory hole of a session as it stands now."""
    return Occupancy.objects.get(booking=session.booking, equipment__kind="glory-hole")


def lead_min(session: Session) -> float:
    """How long before the class its glory hole is lit."""
    return (session.starts_at - hole(session).exclusive_from).total_seconds() / 60


def cold_lead() -> float:
    """From the room's 30 °C to 1100 °C at full power: τ·ln((T∞ − Ta)/(T∞ − T)), in minutes."""
    return HOLE["tau_h"] * 60 * log((1400 - 30) / (1400 - 1100))


def test_a_cold_glory_hole_is_lit_as_early_as_its_thermal_record_says(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))

    assert cold_lead() <= lead_min(session) < cold_lead() + 1


def test_an_hour_after_another_session_it_needs_less(town: Town) -> None:
    town.equipment["hole 2"].delete()
    book(town, "blowing", local(1, 14))

    session = book(town, "blowing", local(1, 18), town.other_instructor)

    # Left to cool for 60 − h minutes and heated for h: h = τ·ln((T∞ − Ta)/((T∞ − T) + (T − Ta)·exp(−g/τ)))
    tau = HOLE["tau_h"] * 60
    exact = tau * log((1400 - 30) / ((1400 - 1100) + (1100 - 30) * exp(-60 / tau)))
    assert exact <= lead_min(session) <= exact + 2
    assert lead_min(session) < cold_lead() - 30


def test_a_session_booked_before_another_shortens_its_heat_up(town: Town) -> None:
    town.equipment["hole 2"].delete()
    evening = book(town, "blowing", local(1, 18))
    cold = lead_min(evening)

    book(town, "blowing", local(1, 14), town.other_instructor)

    assert lead_min(evening) < cold
    bench = Occupancy.objects.get(booking=evening.booking, equipment__kind="bench")
    assert bench.starts_at == hole(evening).starts_at


def test_the_cooling_of_the_first_ends_when_the_second_is_lit(town: Town) -> None:
    town.equipment["hole 2"].delete()
    afternoon = book(town, "blowing", local(1, 14))
    assert hole(afternoon).ends_at > local(1, 18)

    evening = book(town, "blowing", local(1, 18), town.other_instructor)

    assert hole(afternoon).ends_at == hole(evening).starts_at


def test_when_the_earlier_session_is_cancelled_the_heat_up_is_as_long_as_from_cold(town: Town) -> None:
    town.equipment["hole 2"].delete()
    afternoon = book(town, "blowing", local(1, 14))
    evening = book(town, "blowing", local(1, 18), town.other_instructor)

    cancel_session(actor=town.instructor, session=afternoon)

    assert cold_lead() <= lead_min(evening) < cold_lead() + 1
    use = hole(evening).supply_uses.get()
    assert use.starts_at == hole(evening).exclusive_from


def test_where_nobody_is_there_to_light_it_then_the_technician_is_told(town: Town) -> None:
    town.equipment["hole 2"].delete()
    StaffedHours.objects.filter(studio=town.hot_shop, weekday=1).update(may_light=False)
    StaffedHours.objects.create(
        studio=town.hot_shop, weekday=1, opens=dt.time(12), closes=dt.time(17), may_light=True
    )
    StaffedHours.objects.create(
        studio=town.hot_shop, weekday=1, opens=dt.time(17, 10), closes=dt.time(22), may_light=True
    )
    afternoon = book(town, "blowing", local(1, 14))
    evening = book(town, "blowing", local(1, 18), town.other_instructor)

    cancel_session(actor=town.instructor, session=afternoon)

    told = Message.objects.filter(person=town.technician, subject="Light hole 1 early, or keep it hot")
    assert told.count() == 1
    assert lead_min(evening) > 60


def test_after_an_outage_a_glory_hole_is_cold(town: Town) -> None:
    town.equipment["hole 2"].delete()
    book(town, "blowing", local(1, 10))
    Outage.objects.create(
        equipment=town.equipment["hole 1"], starts_at=local(1, 13), ends_at=local(1, 14), reason="burner"
    )

    session = book(town, "blowing", local(1, 16), town.other_instructor)

    assert lead_min(session) >= cold_lead()
