"""What a process keeps is what the database has: after whatever is written, here or by another process."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from random import Random

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from scheduling import kept
from scheduling.engine.clock import moment
from scheduling.engine.records import Store
from scheduling.engine.spans import Span, clip, intersect
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from scheduling.models import Course, Outage, Session
from scheduling.selectors.offers import best_starts
from scheduling.services.charges import book_charge
from scheduling.services.refills import record_refill
from scheduling.snapshot import ask_of, horizon_around, load_world
from studios.errors import LehrbookError
from studios.models import Pot, StaffedHours, Studio
from tests.other_process import other_process
from tests.scenarios.test_any_order import BLOWING, Anyhow
from tests.worlds import FIRST_MONDAY, Town, add_course, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows: with a pot that is charged, and oxygen in cylinders."""
    town = build_town()
    add_course(town, "short", town.hot_shop, "studio-96", BLOWING, minutes=40, glass_kg_per_seat=1.5)
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=150.0, floor_kg=40.0)
    oxygen = town.supplies["oxygen"]
    oxygen.content, oxygen.floor, oxygen.change_over = 20000.0, 500.0, True
    oxygen.save()
    record_refill(actor=town.technician, supply=oxygen, at=local(-6, 9))
    return town


HORIZON = horizon_around(local(0, 0), local(14, 0))


def around() -> tuple[World, World]:
    """The world as it is kept, and as it is loaded afresh."""
    studios = list(Studio.objects.order_by("pk"))
    fresh = load_world(studios, HORIZON)
    with kept.known(studios, HORIZON) as found:
        return found.world, fresh


def assert_alike(kept_now: World, fresh: World) -> None:
    """The same is taken, drawn, and left in stores."""
    assert kept_now.apparatus.keys() == fresh.apparatus.keys()
    for key in fresh.apparatus:
        mine = [c for c in kept_now.claims(key) if c.span[1] > HORIZON[0] and c.span[0] < HORIZON[1]]
        assert mine == list(fresh.claims(key))
        for window in ((1, -20, 100), (1, 0, 60)):
            begins, ends = kept_now.claims(key).forbidden(*window)
            spans = clip(tuple(zip(begins, ends, strict=True)), HORIZON)
            assert spans == clip(tuple(zip(*fresh.claims(key).forbidden(*window), strict=True)), HORIZON)
    for key, supply in fresh.supplies.items():
        assert merged(kept_now.supplies[key].steps) == pytest.approx(merged(supply.steps))
    for one, other in (
        *((kept_now.stores[key], store) for key, store in fresh.stores.items()),
        *((kept_now.pots[key].store, pot.store) for key, pot in fresh.pots.items()),
    ):
        assert rooms(one) == pytest.approx(rooms(other))


def rooms(store: Store) -> list[float]:
    return [number for period in store.periods for number in (*period.span, period.room)]


def merged(steps: object) -> list[float]:
    """Steps within the horizon, those of one total that touch as one, as a list of numbers."""
    found: list[list[float]] = []
    for span, amount in steps:  # type: ignore[attr-defined]  # steps of a supply
        for begin, end in intersect([span], [HORIZON]):
            if found and found[-1][1] == begin and abs(found[-1][2] - amount) < 1e-9:
                found[-1][1] = end
            else:
                found.append([begin, end, amount])
    return [number for step in found for number in step]


class Tinkerer(Anyhow):
    """Somebody who also delivers, charges and changes what there is."""

    def step(self) -> None:
        if self.random.random() < 0.75:
            super().step()
            return
        act = self.random.choice([self.deliver, self.charge, self.mend, self.set_up])
        try:
            act()
        except LehrbookError as error:
            self.done[error.code] += 1
        else:
            self.done[act.__name__] += 1

    def deliver(self) -> None:
        record_refill(
            actor=self.town.technician,
            supply=self.town.supplies["oxygen"],
            at=self.time(),
            content_after=9000,
        )

    def charge(self) -> None:
        book_charge(
            actor=self.town.technician,
            furnace=self.town.equipment["furnace"],
            starts_at=self.time() + dt.timedelta(days=self.random.choice([-3, 4])),
        )

    def mend(self) -> None:
        """What was broken is not, after all."""
        outage = Outage.objects.order_by("?").first()
        if outage is not None:
            outage.delete()

    def set_up(self) -> None:
        """Somebody comes an hour later, or a torch is replaced by a thirstier one."""
        hours = StaffedHours.objects.order_by("pk")[self.random.randrange(7)]
        hours.opens = dt.time(self.random.choice([8, 9]))
        hours.save()


@pytest.mark.parametrize("seed", range(3))
def test_after_every_step_it_is_what_a_fresh_load_finds(town: Town, seed: int) -> None:
    somebody = Tinkerer(town, seed)

    for _ in range(30):
        somebody.step()
        kept_now, fresh = around()
        assert_alike(kept_now, fresh)
        for course in Course.objects.all():
            studio = course.studios.get()
            ask = ask_of(course, studio, town.student)
            span = HORIZON[0] + 10 * 24 * 60, HORIZON[0] + 20 * 24 * 60
            assert start_space(kept_now, ask, *span) == start_space(fresh, ask, *span)

    assert somebody.done["book"] >= 3


def test_it_is_read_once_and_compared_in_one_query(town: Town) -> None:
    around()

    studios = list(Studio.objects.all())
    with CaptureQueriesContext(connection) as asked, kept.known(studios, HORIZON):
        pass

    assert len(asked) == 1, [query["sql"] for query in asked]
    assert "scheduling_revision" in asked[0]["sql"]


def test_what_a_transaction_may_yet_undo_is_not_kept(town: Town) -> None:
    around()

    with transaction.atomic():
        somebody = Anyhow(town, 1)
        for _ in range(12):
            somebody.step()
        assert Session.objects.exists()
        assert_alike(*around())
        transaction.set_rollback(True)

    assert not Session.objects.exists()
    assert_alike(*around())


def offered(town: Town, name: str) -> list[dt.datetime]:
    """The first starts on each day of two weeks that this process offers."""
    course = town.courses[name]
    found = best_starts(
        course=course,
        studios=list(course.studios.all()),
        instructor=town.instructor,
        first_day=FIRST_MONDAY,
        last_day=FIRST_MONDAY + dt.timedelta(days=14),
        time=dt.time(18),
    )
    return [line.option.starts_at for line in found]


def test_no_process_offers_what_another_has_just_sold(town: Town, tmp_path: Path) -> None:
    course, random, booked = town.courses["blowing"], Random(7), []

    with other_process(tmp_path) as other:
        for _ in range(12):
            before = offered(town, "blowing")
            start = random.choice(before)
            key = other.told("book", course.pk, town.instructor.pk, start.isoformat())
            booked.append(int(key))

            after = offered(town, "blowing")

            assert start not in after
            assert_alike(*around())
        for session in booked[::2]:
            assert other.told("cancel", session) == str(session)
            assert_alike(*around())
        start = offered(town, "blowing")[0]
        assert other.told("book", course.pk, town.instructor.pk, start.isoformat()).isdigit()


def test_the_days_asked_for_may_go_beyond_what_is_kept(town: Town) -> None:
    studios, far = list(Studio.objects.all()), horizon_around(local(500, 0), local(520, 0))
    around()

    with kept.known(studios, far) as found:
        span: Span = found.world.horizon
    with kept.known(studios, HORIZON) as found:
        assert found.world.horizon[0] <= HORIZON[0]
        assert HORIZON[1] <= found.world.horizon[1]

    assert span[0] <= far[0] <= far[1] <= span[1]
    assert moment(span[1]) - moment(span[0]) < dt.timedelta(days=500)
