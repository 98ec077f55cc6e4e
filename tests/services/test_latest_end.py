"""A studio in which classes are over by nine: what is offered, what is booked, and who may sit at a torch."""

from __future__ import annotations

import datetime as dt

import pytest

from scheduling.engine.measures import Measure
from scheduling.errors import NoBenchTime, NoStart
from scheduling.selectors.offers import best_starts, weekly_times
from scheduling.selectors.options import Option, Refused, examine, wishes
from scheduling.services.seats import reserve_bench_torch
from studios.models import Studio
from tests.services.test_booking import book
from tests.services.test_rooms import reasons_of
from tests.worlds import FIRST_MONDAY, Town, local

pytestmark = pytest.mark.django_db
NINE = dt.time(21)


def over_by(studio: Studio, latest: dt.time) -> None:
    studio.latest_end = latest
    studio.save()


def test_a_class_of_three_hours_begins_at_six_and_not_a_minute_later(town: Town) -> None:
    over_by(town.hot_shop, NINE)

    book(town, "blowing", local(1, 18))
    with pytest.raises(NoStart, match="At Hot shop classes are over by 21:00; blowing would go on") as no:
        book(town, "blowing", local(2, 18, 1))

    (reason,) = reasons_of(no.value)
    assert (reason["code"], reason["until"]) == ("too-late", local(3, 0))


def test_the_clean_up_of_the_last_class_may_go_on(town: Town) -> None:
    over_by(town.hot_shop, NINE)

    session = book(town, "paperweights", local(1, 18))

    assert session.ends_at == local(1, 21)
    assert session.person_spans.get().ends_at == local(1, 21, 15)


def test_open_bench_time_ends_then_too(town: Town) -> None:
    over_by(town.flame, dt.time(20))

    reserve_bench_torch(
        actor=town.student, torch=town.torches[0], starts_at=local(1, 19), ends_at=local(1, 20)
    )
    with pytest.raises(NoBenchTime):
        reserve_bench_torch(
            actor=town.other_student, torch=town.torches[1], starts_at=local(1, 19), ends_at=local(1, 20, 30)
        )


def test_only_starts_that_are_over_by_the_wished_time_are_offered(town: Town) -> None:
    found = best_starts(
        course=town.courses["blowing"],
        studios=[town.hot_shop],
        instructor=town.instructor,
        first_day=FIRST_MONDAY,
        last_day=FIRST_MONDAY + dt.timedelta(days=6),
        order=Measure.NEAREST,
        time=dt.time(18),
        over_by=dt.time(20),
    )

    # The clocks change on Sunday: it is still eight by the clock on the wall.
    assert sorted(line.option.ends_at for line in found) == [local(day, 20) for day in range(7)]


def test_a_weekly_class_is_over_by_the_wished_time_in_every_week(town: Town) -> None:
    found = weekly_times(
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        first_day=FIRST_MONDAY,
        weeks=3,
        time=dt.time(18),
        over_by=dt.time(20),
    )

    assert found.times[-1].last == dt.time(17)
    assert "It was asked to be over by 20:00" in found.refused[0].reasons[0].sentence


def test_the_wished_time_itself_may_be_too_late_for_the_wished_end(town: Town) -> None:
    (answer,) = wishes(
        course=town.courses["blowing"],
        studios=[town.hot_shop],
        instructor=town.instructor,
        first_day=FIRST_MONDAY,
        last_day=FIRST_MONDAY,
        time=dt.time(18),
        over_by=dt.time(20),
    )

    assert isinstance(answer, Refused)
    assert [opening.sentence for opening in answer.openings[:2]] == [
        "60 minutes shorter it works.",
        "60 minutes earlier, at Mon 3 Mar 17:00, it works.",
    ]


def test_each_studio_reads_the_wished_end_from_its_own_clock(town: Town) -> None:
    town.hot_shop.time_zone = "Europe/Berlin"
    town.hot_shop.save()
    noon = dt.datetime(2031, 3, 4, 12, tzinfo=town.hot_shop.zone)

    def asked(over_by: dt.time) -> Option | Refused:
        return examine(
            course=town.courses["blowing"],
            studio=town.hot_shop,
            instructor=town.instructor,
            starts_at=noon,
            over_by=over_by,
        )

    by_three, by_one_minute_less = asked(dt.time(15)), asked(dt.time(14, 59))

    assert isinstance(by_three, Option)
    assert isinstance(by_one_minute_less, Refused)
