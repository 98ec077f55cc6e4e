"""The day's round: each duty is ticked once, with what happened recorded beside it, and can be taken back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import Actual, ActualKind, AuditEntry, Firing, Refill, RefillStatus, Session, Tick
from scheduling.selectors.duties import Does, duties_on
from scheduling.selectors.round import DayRound, Line, day_round
from scheduling.services.actuals import record_actual, strike_actual
from scheduling.services.cancelling import cancel_session
from scheduling.services.charges import book_charge
from scheduling.services.moving import move_session
from scheduling.services.pick_up import unload
from scheduling.services.refills import record_refill
from scheduling.services.ticks import take_back, tick_duty
from studios.models import Pot, Studio
from tests.services.test_booking import book, firing_of
from tests.worlds import FIRST_MONDAY, Town, local

pytestmark = pytest.mark.django_db
TUESDAY, WEDNESDAY = FIRST_MONDAY + dt.timedelta(days=1), FIRST_MONDAY + dt.timedelta(days=2)


@pytest.fixture
def session(town: Town) -> Iterator[Session]:
    """A blowing class on Tuesday evening; it is Tuesday, five in the afternoon, when anybody looks."""
    with time_machine.travel(local(0, 9), tick=False) as clock:
        found = book(town, "blowing", local(1, 18))
        clock.move_to(local(1, 17))
        yield found


@pytest.fixture
def firing(session: Session) -> Firing:
    return firing_of(session)


def line(found: DayRound, does: Does, what: str) -> Line:
    (one,) = (each for each in found.lines if (each.duty.does, each.duty.what) == (does, what))
    return one


def ticked(town: Town, does: Does, what: str, **how: object) -> tuple[Tick, ...]:
    """The technician ticks one of the duties of Tuesday at the hot shop."""
    keys = line(day_round(town.hot_shop, TUESDAY), does, what).duty.keys
    facts = {"actor": town.technician, "studio": town.hot_shop, "day": TUESDAY, "duties": keys, **how}
    return tick_duty(**facts).ticks  # type: ignore[arg-type]


class TestDuties:
    @pytest.mark.usefixtures("session")
    def test_an_evening_class_is_lit_loaded_and_started_in_order(self, town: Town) -> None:
        duties = duties_on(town.hot_shop, TUESDAY)

        assert [(duty.does, duty.what) for duty in duties] == [
            (Does.SWITCH_ON, "annealer 1"),
            (Does.LIGHT, "hole 1"),
            (Does.LIGHT, "warmer 1"),
            (Does.START_SOAK, "annealer 1"),
        ]

    def test_a_kiln_is_loaded_and_switched_on_once_whatever_its_program_does(self, town: Town) -> None:
        with time_machine.travel(local(0, 9), tick=False):
            book(town, "tiles", local(1, 10))

        does = [duty.does for duty in duties_on(town.flame, TUESDAY) if duty.what == "kiln"]

        assert does == [Does.LOAD, Does.SWITCH_ON]

    def test_a_furnace_is_turned_up_for_its_charge(self, town: Town) -> None:
        Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
        with time_machine.travel(local(0, 9), tick=False):
            book_charge(actor=town.technician, furnace=town.equipment["furnace"], starts_at=local(1, 8))

        does = [duty.does for duty in duties_on(town.hot_shop, TUESDAY)]

        assert does[0] is Does.TURN_UP
        assert set(does[1:]) == {Does.CHARGE}

    def test_a_duty_keeps_its_key_when_its_hour_moves(self, town: Town, session: Session) -> None:
        (before,) = (duty for duty in duties_on(town.hot_shop, TUESDAY) if duty.what == "hole 1")

        with time_machine.travel(local(1, 9), tick=False):
            move_session(actor=town.instructor, session=session, starts_at=local(1, 20))

        (after,) = (duty for duty in duties_on(town.hot_shop, TUESDAY) if duty.what == "hole 1")
        assert after.at == before.at + dt.timedelta(hours=2)
        assert after.keys == before.keys


@pytest.mark.usefixtures("session")
class TestTicks:
    def test_a_tick_says_who_and_when_and_is_noted(self, town: Town) -> None:
        (tick,) = ticked(town, Does.LIGHT, "hole 1")

        found = line(day_round(town.hot_shop, TUESDAY), Does.LIGHT, "hole 1")
        assert found.done
        assert found.tick == tick
        assert (tick.ticked_by, tick.ticked_at) == (town.technician, local(1, 17))
        assert tick.said == "Light hole 1 (blowing, Instructor)"
        assert AuditEntry.objects.get(did="tick").subject == tick.uid
        assert not Actual.objects.exists()

    def test_what_happened_is_recorded_in_the_same_step(self, town: Town, firing: Firing) -> None:
        (tick,) = ticked(town, Does.SWITCH_ON, "annealer 1", record=True, at=local(1, 16, 10))

        actual = firing.actuals.get()
        assert (actual.kind, actual.at) == (ActualKind.LIT, local(1, 16, 10))
        assert tick.actual == actual

    def test_nobody_ticks_what_is_ticked(self, town: Town) -> None:
        ticked(town, Does.LIGHT, "hole 1")

        with pytest.raises(Over, match="is done already"):
            ticked(town, Does.LIGHT, "hole 1", actor=town.instructor)

        assert Tick.objects.count() == 1

    def test_taken_back_it_stays_and_counts_no_more(self, town: Town) -> None:
        ticks = ticked(town, Does.LIGHT, "hole 1")

        take_back(actor=town.instructor, ticks=ticks)

        assert not line(day_round(town.hot_shop, TUESDAY), Does.LIGHT, "hole 1").done
        assert Tick.objects.get().taken_back_by == town.instructor
        assert ticked(town, Does.LIGHT, "hole 1") != ticks
        with pytest.raises(Over, match="is taken back already"):
            take_back(actor=town.technician, ticks=ticks)

    def test_what_was_recorded_with_it_is_struck_with_it(self, town: Town, firing: Firing) -> None:
        ticks = ticked(town, Does.SWITCH_ON, "annealer 1", record=True)

        take_back(actor=town.technician, ticks=ticks)

        assert firing.actuals.get().struck_at == local(1, 17)

    def test_a_record_that_is_struck_takes_its_tick_with_it(self, town: Town, firing: Firing) -> None:
        ticked(town, Does.SWITCH_ON, "annealer 1", record=True)

        strike_actual(actor=town.manager, actual=firing.actuals.get())

        assert Tick.objects.get().taken_back_by == town.manager
        assert not line(day_round(town.hot_shop, TUESDAY), Does.SWITCH_ON, "annealer 1").done

    def test_what_cannot_have_happened_is_neither_recorded_nor_ticked(self, town: Town) -> None:
        with pytest.raises(InvalidInput, match="this time is to come"):
            ticked(town, Does.SWITCH_ON, "annealer 1", record=True, at=local(1, 19))

        assert not Tick.objects.exists()
        assert not Actual.objects.exists()

    def test_of_what_has_no_record_only_a_tick_is_kept(self, town: Town) -> None:
        with pytest.raises(InvalidInput, match="tick it alone"):
            ticked(town, Does.LIGHT, "hole 1", record=True)

    def test_a_day_to_come_is_not_ticked(self, town: Town) -> None:
        (unloading,) = duties_on(town.hot_shop, WEDNESDAY)

        with pytest.raises(InvalidInput, match="this day is to come"):
            ticked(town, Does.LIGHT, "hole 1", day=WEDNESDAY, duties=unloading.keys)

    @pytest.mark.parametrize("key", ["", "light", "light:x:1:0", "light:x:99999999999999999999:0"])
    def test_what_is_no_duty_of_the_day_is_not_ticked(self, town: Town, key: str) -> None:
        with pytest.raises(Over, match="is not due on this day"):
            ticked(town, Does.LIGHT, "hole 1", duties=[key])

    def test_what_was_called_off_is_no_duty_any_more(self, town: Town, session: Session) -> None:
        keys = line(day_round(town.hot_shop, TUESDAY), Does.LIGHT, "hole 1").duty.keys
        cancel_session(actor=town.instructor, session=session)

        with pytest.raises(Over, match="moved or called off"):
            tick_duty(actor=town.technician, studio=town.hot_shop, day=TUESDAY, duties=keys)

    def test_students_tick_nothing(self, town: Town) -> None:
        ticks = ticked(town, Does.LIGHT, "hole 1")

        with pytest.raises(NotAllowed):
            ticked(town, Does.LIGHT, "warmer 1", actor=town.student)
        with pytest.raises(NotAllowed):
            take_back(actor=town.student, ticks=ticks)

    def test_alike_things_are_ticked_together(self, town: Town) -> None:
        with time_machine.travel(local(0, 9), tick=False) as clock:
            book(town, "beads", local(1, 18), town.other_instructor)
            clock.move_to(local(1, 17, 55))
            (purge,) = (each for each in duties_on(town.flame, TUESDAY) if each.does == Does.PURGE)

            found = tick_duty(actor=town.technician, studio=town.flame, day=TUESDAY, duties=purge.keys)

        assert len(found.ticks) == 5
        (shown,) = (each for each in day_round(town.flame, TUESDAY).lines if each.duty.does == Does.PURGE)
        assert shown.done


class TestDeliveries:
    @pytest.fixture
    def planned(self, town: Town) -> Iterator[Refill]:
        oxygen = town.supplies["oxygen"]
        oxygen.content = 9000
        oxygen.save()
        with time_machine.travel(local(0, 9), tick=False) as clock:
            refill = record_refill(actor=town.technician, supply=oxygen, at=local(1, 10))
            clock.move_to(local(1, 11))
            yield refill

    def test_a_delivery_is_entered_as_done_in_the_same_step(self, town: Town, planned: Refill) -> None:
        (duty,) = duties_on(town.flame, TUESDAY)

        tick_duty(actor=town.technician, studio=town.flame, day=TUESDAY, duties=duty.keys, record=True)

        planned.refresh_from_db()
        assert (planned.status, planned.at) == (RefillStatus.DONE, local(1, 11))
        assert day_round(town.flame, TUESDAY).lines[0].done

    def test_whoever_records_no_deliveries_only_ticks_them(self, town: Town, planned: Refill) -> None:
        (duty,) = duties_on(town.flame, TUESDAY)
        facts = {"actor": town.instructor, "studio": town.flame, "day": TUESDAY, "duties": duty.keys}

        with pytest.raises(NotAllowed):
            tick_duty(**facts, record=True)  # type: ignore[arg-type]
        tick_duty(**facts)  # type: ignore[arg-type]

        planned.refresh_from_db()
        assert planned.status == RefillStatus.PLANNED


@pytest.mark.usefixtures("session")
class TestRound:
    def test_what_was_recorded_at_the_kiln_needs_no_tick(self, town: Town, firing: Firing) -> None:
        record_actual(actor=town.instructor, firing=firing, kind="lit", at=local(1, 16, 30))

        found = line(day_round(town.hot_shop, TUESDAY), Does.SWITCH_ON, "annealer 1")

        assert found.done
        assert found.tick is None

    def test_what_only_follows_says_so_too(self, town: Town, firing: Firing) -> None:
        with time_machine.travel(local(2, 12), tick=False):
            unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), "3"))
            found = day_round(town.hot_shop, WEDNESDAY)

        assert found.lines[0].done
        assert [(each.duty.does, each.duty.what) for each in found.left] == [
            (Does.LIGHT, "hole 1"),
            (Does.LIGHT, "warmer 1"),
        ]

    def test_yesterdays_unticked_duties_stay_on_top(self, town: Town) -> None:
        ticked(town, Does.LIGHT, "hole 1")

        with time_machine.travel(local(2, 9), tick=False):
            left = day_round(town.hot_shop).left

        assert [(each.duty.does, each.duty.what) for each in left] == [
            (Does.SWITCH_ON, "annealer 1"),
            (Does.LIGHT, "warmer 1"),
            (Does.START_SOAK, "annealer 1"),
        ]

    def test_what_is_hot_now_says_why_and_until_when(self, town: Town, firing: Firing) -> None:
        with time_machine.travel(local(1, 19), tick=False):
            hot = {one.name: one for one in day_round(town.hot_shop).hot}

        assert list(hot) == ["furnace", "hole 1", "warmer 1", "annealer 1"]
        assert hot["furnace"].celsius == 1150
        assert hot["hole 1"].celsius == pytest.approx(1100)
        annealer = hot["annealer 1"]
        assert annealer.why == "blowing: anneal, Instructor"
        assert annealer.celsius == pytest.approx(firing.hold_c)
        assert annealer.phase_until == minute(firing.last_in_at)
        assert annealer.cool_at == minute(firing.cool_at)
        assert annealer.unload_at == minute(firing.unload_at)

    def test_the_night_after_is_hot_until_it_is_cool(self, town: Town, firing: Firing) -> None:
        night = {one.name: one for one in day_round(town.hot_shop).night}

        assert list(night) == ["furnace", "hole 1", "annealer 1"]
        with time_machine.travel(firing.cool_at, tick=False):
            assert [one.name for one in day_round(town.hot_shop).hot] == ["furnace"]

    def test_what_burns_is_hot_though_nobody_knows_how_hot(self, town: Town) -> None:
        with time_machine.travel(local(0, 9), tick=False) as clock:
            book(town, "beads", local(1, 18), town.other_instructor)
            clock.move_to(local(1, 19))
            (torches,) = (one for one in day_round(town.flame).hot if one.kind == "torch")

        assert torches.name == "torch 1, torch 2, torch 3, torch 4, torch 5"
        assert torches.celsius is None

    def test_the_last_temperature_read_stands_beside_it(self, town: Town, firing: Firing) -> None:
        with time_machine.travel(local(1, 19), tick=False):
            read = record_actual(
                actor=town.technician, firing=firing, kind="temperature", at=local(1, 18, 55), read_c=470
            )
            (annealer,) = (one for one in day_round(town.hot_shop).hot if one.kind == "annealer")

        assert annealer.read == read.actual

    def test_a_round_costs_as_many_queries_on_a_full_day(
        self, town: Town, django_assert_num_queries: Any
    ) -> None:
        with CaptureQueriesContext(connection) as few:
            day_round(Studio.objects.get(pk=town.hot_shop.pk))
        with time_machine.travel(local(0, 9), tick=False):
            book(town, "paperweights", local(1, 18), town.other_instructor)

        with django_assert_num_queries(len(few)):
            found = day_round(Studio.objects.get(pk=town.hot_shop.pk), TUESDAY)

        assert len(found.lines) == 6


def minute(at: dt.datetime) -> int:
    return int(at.timestamp()) // 60
