"""What really happened is recorded, and the firing follows: when it is cool, unloaded, what it reaches."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from math import log

import pytest
import time_machine

from scheduling.engine.actual import What
from scheduling.errors import InvalidInput, NoStart, NotAllowed, OutOfOrder, Over
from scheduling.models import Actual, ActualKind, AuditEntry, Firing, Message, Outage
from scheduling.selectors.reached import found_hot, over_limit
from scheduling.services.actuals import Recorded, record_actual, strike_actual
from scheduling.services.cancelling import cancel_session
from studios.models import ThermalRecord
from tests.invariants import broken
from tests.services.test_booking import book, firing_of
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Monday morning, and as the tests move it."""
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


@pytest.fixture
def firing(town: Town, clock: time_machine.Traveller) -> Firing:
    """A blowing class on Tuesday from 18:00 to 21:00, its pieces in annealer 1 over night."""
    found = firing_of(book(town, "blowing", local(1, 18)))
    clock.move_to(local(3, 12))
    return found


def record(town: Town, firing: Firing, kind: str, at: dt.datetime, read_c: float | None = None) -> Recorded:
    found = record_actual(actor=town.technician, firing=firing, kind=kind, at=at, read_c=read_c)
    firing.refresh_from_db()
    return found


def told(subject: str) -> list[str]:
    return list(Message.objects.filter(subject__startswith=subject).values_list("person__name", flat=True))


def test_a_class_that_overran_moves_the_night(town: Town, firing: Firing) -> None:
    cool, unload = firing.cool_at, firing.unload_at

    record(town, firing, "last-in", local(1, 21, 40))

    assert firing.cool_at - cool == dt.timedelta(minutes=40)
    assert firing.unload_at >= unload
    assert firing.loads.get().in_until == local(1, 21, 40)
    assert firing.occupancy.phases.get(kind="soak").starts_at == local(1, 21, 40)
    assert firing.sequence == 1
    assert broken() == []


def test_over_early_the_soak_begins_early_and_struck_it_is_as_planned(town: Town, firing: Firing) -> None:
    planned = (
        Firing.objects.filter(pk=firing.pk).values("cool_at", "unload_at", "last_in_at", "at_hold_at").get()
    )

    recorded = record(town, firing, "last-in", local(1, 20, 30))
    early = firing.cool_at
    strike_actual(actor=town.technician, actual=recorded.actual)

    assert planned["cool_at"] - early == dt.timedelta(minutes=30)
    firing.refresh_from_db()
    assert Firing.objects.filter(pk=firing.pk).values(*planned).get() == planned
    assert firing.loads.get().in_until == local(1, 21)
    assert Actual.objects.get().struck_at is not None
    assert broken() == []


def test_power_lost_at_three_in_the_morning_while_it_cools(town: Town, firing: Firing) -> None:
    three = local(2, 3)

    record(town, firing, "power-lost", three, 380.0)

    # Newton: 4 h * ln((380 - 30) / (50 - 30)) with annealer 1 in a shop of 30 °C.
    hours = 4 * log(350 / 20)
    assert (firing.cool_at - three) / dt.timedelta(hours=1) == pytest.approx(hours, abs=0.02)
    assert firing.broken_at is None
    assert told("To be annealed again") == []
    assert max(use.ends_at for use in firing.occupancy.supply_uses.all()) <= three
    assert broken() == []


def test_power_lost_while_it_soaks_it_must_be_annealed_again_and_whom_it_concerns_is_told_once(
    town: Town, firing: Firing
) -> None:
    lost = local(1, 21, 20)

    record(town, firing, "power-lost", lost)
    record(town, firing, "temperature", local(1, 22), 420.0)

    assert firing.broken_at == lost
    assert sorted(told("To be annealed again")) == ["Instructor", "Manager", "Technician"]
    assert broken() == []


def test_soaked_again_it_is_whole(town: Town, firing: Firing) -> None:
    record(town, firing, "power-lost", local(1, 21, 20))

    record(town, firing, "soak-started", local(2, 1))

    assert firing.broken_at is None
    assert firing.last_in_at == local(1, 21)
    assert firing.cool_at > local(2, 1) + dt.timedelta(hours=8)
    assert broken() == []


def test_still_at_120_when_it_should_be_cold(town: Town, firing: Firing) -> None:
    at = firing.cool_at + dt.timedelta(minutes=20)

    record(town, firing, "temperature", at, 120.0)

    hours = 4 * log(90 / 20)
    assert (firing.cool_at - at) / dt.timedelta(hours=1) == pytest.approx(hours, abs=0.02)
    assert broken() == []


def test_read_twice_the_later_reading_counts_and_struck_the_earlier_one(town: Town, firing: Firing) -> None:
    first, second = firing.cool_at - dt.timedelta(hours=4), firing.cool_at - dt.timedelta(hours=2)

    record(town, firing, "temperature", first, 250.0)
    after_first = firing.cool_at
    later = record(town, firing, "temperature", second, 200.0)
    after_second = firing.cool_at
    strike_actual(actor=town.technician, actual=later.actual)
    firing.refresh_from_db()

    assert after_second != after_first
    assert firing.cool_at == after_first


def test_recorded_in_whatever_order_it_comes_to_the_same(town: Town, firing: Firing) -> None:
    cool = firing.cool_at
    events = [
        ("last-in", local(1, 21, 10), None),
        ("temperature", cool - dt.timedelta(hours=3), 180.0),
        ("power-lost", cool - dt.timedelta(hours=5), None),
    ]
    for kind, at, read_c in events:
        record(town, firing, kind, at, read_c)
    forward = (firing.cool_at, firing.unload_at, firing.broken_at)
    firing.actuals.all().delete()
    for kind, at, read_c in reversed(events):
        record(town, firing, kind, at, read_c)

    assert (firing.cool_at, firing.unload_at, firing.broken_at) == forward


def test_opened_and_unloaded_early_it_is_free_from_then_on(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    early = firing.cool_at - dt.timedelta(hours=3)

    record(town, firing, "temperature", early, 45.0)
    opened = record(town, firing, "opened", early + dt.timedelta(minutes=5))
    record(town, firing, "unloaded", early + dt.timedelta(minutes=20))

    assert opened.cautions == ()
    assert firing.opened_at == early + dt.timedelta(minutes=5)
    assert firing.occupancy.ends_at == firing.occupancy.exclusive_to == early + dt.timedelta(minutes=20)
    assert broken() == []


def test_opened_too_hot_is_recorded_with_a_caution(town: Town, firing: Firing) -> None:
    recorded = record(town, firing, "opened", firing.cool_at - dt.timedelta(hours=2), 110.0)

    assert "the door stays closed above 50 °C" in recorded.cautions[0]
    assert firing.opened_at is not None


def test_what_runs_longer_finds_the_next_class_and_the_next_class_finds_it_hot(
    town: Town, clock: time_machine.Traveller
) -> None:
    town.equipment["annealer 2"].delete()
    firing = firing_of(book(town, "blowing", local(1, 18)))
    after = book(town, "blowing", local(2, 18), town.other_instructor)
    follows = firing_of(after).occupancy
    clock.move_to(local(2, 15))

    record(town, firing, "temperature", local(2, 14, 50), 300.0)

    firing.occupancy.refresh_from_db()
    assert firing.cool_at > follows.exclusive_from
    assert firing.occupancy.ends_at >= firing.unload_at
    assert firing.occupancy.exclusive_to == follows.exclusive_from
    assert [(use.what, use.session) for use in found_hot(firing)] == [("blowing", after)]
    assert sorted(told("Still hot: annealer 1, for blowing")) == ["Manager", "Technician"]
    assert over_limit(firing) == []
    assert broken() == []


def test_what_it_ran_into_is_called_off_and_it_holds_its_equipment_again(
    town: Town, clock: time_machine.Traveller
) -> None:
    town.equipment["annealer 2"].delete()
    firing = firing_of(book(town, "blowing", local(1, 18)))
    after = book(town, "blowing", local(2, 18), town.other_instructor)
    clock.move_to(local(2, 15))
    record(town, firing, "temperature", local(2, 14, 50), 300.0)

    cancel_session(actor=town.other_instructor, session=after)

    firing.occupancy.refresh_from_db()
    assert firing.occupancy.exclusive_to == firing.occupancy.ends_at
    assert found_hot(firing) == []


def test_a_repair_that_finds_it_hot_is_listed(town: Town, firing: Firing) -> None:
    starts_at = firing.occupancy.ends_at + dt.timedelta(minutes=30)
    Outage.objects.create(
        equipment=firing.equipment,
        reason="new elements",
        starts_at=starts_at,
        ends_at=starts_at + dt.timedelta(hours=3),
    )

    record(town, firing, "temperature", firing.cool_at, 200.0)

    assert [use.what for use in found_hot(firing)] == ["new elements"]


def test_supplies_that_would_have_to_give_too_much_are_listed(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    clock.move_to(local(1, 21, 20))
    feeder = town.supplies["shop feeder"]
    assert over_limit(firing) == []

    record(town, firing, "last-in", local(1, 21, 20))
    feeder.limit = 5
    feeder.save()

    found = over_limit(firing)
    assert [line.supply for line in found] == [feeder]
    assert found[0].amount == pytest.approx(7.5)
    assert found[0].starts_at == local(1, 21, 20)


def test_nobody_joins_a_firing_that_broke_off(town: Town, clock: time_machine.Traveller) -> None:
    firing = firing_of(book(town, "blowing", local(1, 14)))
    clock.move_to(local(1, 15))
    record(town, firing, "power-lost", local(1, 14, 30))

    with pytest.raises(NoStart, match="annealer 1 is taken by blowing"):
        book(town, "blowing", local(1, 18), town.other_instructor)


def test_what_was_recorded_holds_when_another_class_joins_or_goes(
    town: Town, clock: time_machine.Traveller
) -> None:
    firing = firing_of(book(town, "blowing", local(1, 14)))
    second = book(town, "blowing", local(1, 19), town.other_instructor)
    clock.move_to(local(1, 14, 30))
    record(town, firing, "lit", local(1, 12, 30))
    ready = firing.at_hold_at

    cancel_session(actor=town.other_instructor, session=second)
    firing.refresh_from_db()
    alone = firing.at_hold_at
    again = book(town, "blowing", local(1, 19), town.other_instructor)

    firing.refresh_from_db()
    assert firing_of(again) == firing
    assert ready == alone == firing.at_hold_at
    assert firing.occupancy.starts_at == local(1, 12, 30)
    assert broken() == []


def test_it_does_not_soak_in_the_past_though_it_is_recorded_when_it_was_lit(
    town: Town, clock: time_machine.Traveller
) -> None:
    """From 17:00 on it was held for the second class, which is called off at 18:00."""
    firing = firing_of(book(town, "blowing", local(1, 14)))
    second = book(town, "blowing", local(1, 18, 30), town.other_instructor)
    clock.move_to(local(1, 18))
    record(town, firing, "lit", local(1, 12, 30))

    cancel_session(actor=town.other_instructor, session=second)

    firing.refresh_from_db()
    assert firing.last_in_at == local(1, 18)
    assert firing.loads.get().in_until == local(1, 17)
    assert firing.occupancy.phases.get(kind="soak").starts_at == local(1, 18)
    cool = firing.cool_at
    record(town, firing, "temperature", local(1, 17, 50), firing.hold_c)
    assert (firing.last_in_at, firing.cool_at) == (local(1, 18), cool)
    assert broken() == []


def test_what_is_left_when_a_class_goes_cools_as_it_needs_and_as_was_recorded(
    town: Town, clock: time_machine.Traveller
) -> None:
    """Without the paperweights a thinner program is enough; that the power was lost stands."""
    town.equipment["annealer 2"].delete()
    firing = firing_of(book(town, "blowing", local(1, 14)))
    second = book(town, "paperweights", local(1, 18, 30), town.other_instructor)
    clock.move_to(local(1, 17))
    record(town, firing, "power-lost", local(1, 16))
    record(town, firing, "lit", local(1, 16, 30))
    thick = firing.cool_at

    cancel_session(actor=town.other_instructor, session=second)

    firing.refresh_from_db()
    assert firing.loads.get().session != second
    assert local(1, 17) < firing.cool_at < thick
    assert firing.occupancy.phases.filter(starts_at=local(1, 16), kind="cooling").exists()
    assert broken() == []


def test_a_class_is_called_off_though_what_was_recorded_fits_no_more(
    town: Town, clock: time_machine.Traveller
) -> None:
    firing = firing_of(book(town, "blowing", local(1, 14)))
    second = book(town, "blowing", local(1, 19), town.other_instructor)
    clock.move_to(local(1, 17))
    record(town, firing, "lit", local(1, 12, 30))
    cool = firing.cool_at
    ThermalRecord.objects.filter(equipment=firing.equipment).delete()

    cancel_session(actor=town.other_instructor, session=second)

    firing.refresh_from_db()
    second.refresh_from_db()
    assert (second.status, firing.cool_at) == ("cancelled", cool)


SENSELESS: list[tuple[str, dt.datetime, float | None, type[Exception], str]] = [
    ("temperature", local(2, 9), None, InvalidInput, "which temperature"),
    ("temperature", local(2, 9), 900.0, InvalidInput, "read it again"),
    ("temperature", local(4, 9), 90.0, InvalidInput, "is to come"),
    ("melted", local(2, 9), None, InvalidInput, "Say what happened"),
    ("last-in", local(1, 9), None, OutOfOrder, "record first when it was"),
    ("opened", local(1, 20), None, OutOfOrder, "pieces go in until"),
    ("lit", local(0, 9), None, OutOfOrder, "lit or loaded only from"),
]


@pytest.mark.parametrize("case", SENSELESS, ids=lambda case: f"{case[0]}: {case[4]}")
def test_what_makes_no_sense_is_refused(
    town: Town, firing: Firing, case: tuple[str, dt.datetime, float | None, type[Exception], str]
) -> None:
    kind, at, read_c, error, why = case

    with pytest.raises(error, match=why):
        record(town, firing, kind, at, read_c)

    assert not firing.actuals.exists()


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        (("soak-started", local(1, 21)), ("last-in", local(1, 21, 10)), "its soak began"),
        (("power-lost", local(1, 22)), ("stopped-early", local(1, 23)), "the heat is off since"),
        (("lit", local(1, 12)), ("lit", local(1, 13)), "it is hot since"),
        (("unloaded", local(2, 10)), ("temperature", local(2, 11)), "it was unloaded at"),
        (("unloaded", local(2, 10)), ("unloaded", local(2, 11)), "it was unloaded at"),
        (("opened", local(2, 10)), ("power-lost", local(2, 11)), "it was opened at"),
    ],
)
def test_one_thing_follows_another(
    town: Town, firing: Firing, first: tuple[str, dt.datetime], second: tuple[str, dt.datetime], why: str
) -> None:
    record(town, firing, *first)

    with pytest.raises(OutOfOrder, match=why):
        record(town, firing, *second, 100.0)


def test_only_whoever_works_there_records(town: Town, firing: Firing) -> None:
    with pytest.raises(NotAllowed):
        record_actual(actor=town.student, firing=firing, kind="opened", at=local(2, 12))


def test_a_firing_that_is_called_off_takes_no_record(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "blowing", local(1, 18))
    firing = firing_of(session)
    cancel_session(actor=town.instructor, session=session)

    with pytest.raises(Over, match="called off"):
        record(town, firing, "lit", local(0, 9))


def test_what_was_recorded_of_a_firing_that_is_called_off_since_is_not_struck(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "blowing", local(1, 18))
    firing = firing_of(session)
    clock.move_to(local(1, 17, 30))
    recorded = record(town, firing, "lit", local(1, 17, 20))
    cancel_session(actor=town.instructor, session=session)

    with pytest.raises(Over, match="is called off; nothing happens in it any more"):
        strike_actual(actor=town.technician, actual=recorded.actual)


def test_who_recorded_and_struck_what_is_in_the_audit(town: Town, firing: Firing) -> None:
    recorded = record(town, firing, "temperature", local(2, 6), 300.0)
    strike_actual(actor=town.manager, actual=recorded.actual)

    found = list(AuditEntry.objects.filter(kind="firing").order_by("pk").values_list("did", "actor__name"))
    assert found == [("record", "Technician"), ("strike", "Manager")]
    assert (
        "annealer 1: temperature read 300 °C, Wed 5 Mar 2031, 06:00 CST"
        in AuditEntry.objects.filter(did="record").get().said
    )
    with pytest.raises(Over, match="struck already"):
        strike_actual(actor=town.technician, actual=Actual.objects.get())


def test_the_night_in_which_the_clocks_change_is_as_long_as_any(
    town: Town, clock: time_machine.Traveller
) -> None:
    """On Sunday 9 March 2031 the clocks jump from 02:00 to 03:00."""
    firing = firing_of(book(town, "blowing", local(5, 18)))
    clock.move_to(local(7, 12))
    lost = local(6, 1, 30)

    record(town, firing, "power-lost", lost, 380.0)

    elapsed = firing.cool_at.astimezone(dt.UTC) - lost.astimezone(dt.UTC)
    assert elapsed / dt.timedelta(hours=1) == pytest.approx(4 * log(350 / 20), abs=0.02)


def test_a_kiln_that_waited_for_its_feeder_keeps_its_wait_when_a_record_is_struck(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "tiles", local(1, 18))
    firing = firing_of(session)
    wait = dt.timedelta(minutes=90)
    Firing.objects.filter(pk=firing.pk).update(last_in_at=firing.at_hold_at + wait)
    firing.refresh_from_db()
    clock.move_to(local(3, 12))

    lit = record(town, firing, "lit", firing.last_in_at + dt.timedelta(minutes=20))
    late = firing.cool_at
    strike_actual(actor=town.technician, actual=lit.actual)

    firing.refresh_from_db()
    assert firing.last_in_at - firing.at_hold_at == wait
    assert late - firing.cool_at == dt.timedelta(minutes=20)
    assert broken() == []


def test_without_a_thermal_record_nothing_is_reckoned(town: Town, firing: Firing) -> None:
    ThermalRecord.objects.filter(equipment=firing.equipment).delete()

    with pytest.raises(Exception, match="no thermal record"):
        record(town, firing, "temperature", local(2, 9), 90.0)


def test_whoever_has_pieces_in_it_is_told_that_it_moved(town: Town, firing: Firing) -> None:
    record(town, firing, "last-in", local(1, 21, 1))
    record(town, firing, "temperature", firing.cool_at, 150.0)

    assert told("Firing moved") == ["Instructor"] * len(told("Firing moved"))
    assert firing.unload_at > local(2, 8)
    assert len(told("Firing moved")) <= 2
    assert told("Firing moved")


def test_what_can_be_recorded_is_what_the_engine_knows() -> None:
    assert {what.value for what in What} == set(ActualKind.values)
