"""The days that a weekly class is proposed to leave out."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from scheduling.selectors.skips import proposed_skips
from studios.models import Closure
from studios.public_holidays import public_holidays, regions
from tests.worlds import FIRST_MONDAY, Town

pytestmark = pytest.mark.django_db
GOOD_FRIDAY, EASTER_MONDAY = dt.date(2031, 4, 11), dt.date(2031, 4, 14)  # Easter Sunday 2031 is 13 April


def proposed(town: Town, first: dt.date = FIRST_MONDAY, weeks: int = 8) -> list[tuple[dt.date, str]]:
    return [(skip.day, skip.reason) for skip in proposed_skips(town.hot_shop, first, weeks)]


def in_country(town: Town, country: str, region: str = "") -> Town:
    town.hot_shop.holiday_country, town.hot_shop.holiday_region = country, region
    town.hot_shop.full_clean()
    town.hot_shop.save()
    return town


def test_without_a_country_no_holiday_is_proposed(town: Town) -> None:
    assert proposed(town) == []


def test_a_holiday_on_the_weekday_of_the_class_is_proposed(town: Town) -> None:
    in_country(town, "GB", "ENG")

    # Six Mondays, Easter Monday left out, and two more; a ninth meets another holiday.
    assert proposed(town, weeks=8) == [(EASTER_MONDAY, "Easter Monday")]
    assert proposed(town, weeks=9) == [(EASTER_MONDAY, "Easter Monday"), (dt.date(2031, 5, 5), "May Day")]
    assert proposed(town, FIRST_MONDAY + dt.timedelta(days=1)) == []


def test_a_region_has_holidays_that_its_country_has_not(town: Town) -> None:
    assert GOOD_FRIDAY in public_holidays("GB", "ENG", GOOD_FRIDAY, EASTER_MONDAY)
    assert EASTER_MONDAY in public_holidays("GB", "ENG", GOOD_FRIDAY, EASTER_MONDAY)
    assert EASTER_MONDAY not in public_holidays("GB", "SCT", GOOD_FRIDAY, EASTER_MONDAY)


def test_days_on_which_the_studio_is_closed_are_proposed_with_their_reason(town: Town) -> None:
    second = FIRST_MONDAY + dt.timedelta(days=7)
    Closure.objects.create(
        studio=town.hot_shop,
        first_day=second - dt.timedelta(days=2),
        last_day=second + dt.timedelta(days=2),
        reason="furnace rebuilt",
    )

    assert proposed(town) == [(second, "closed: furnace rebuilt")]


def test_each_day_left_out_may_lead_to_another_that_would_be(town: Town) -> None:
    for week in (1, 4):
        day = FIRST_MONDAY + dt.timedelta(weeks=week)
        Closure.objects.create(studio=town.hot_shop, first_day=day, last_day=day, reason="fair")

    assert [day for day, _ in proposed(town, weeks=3)] == [FIRST_MONDAY + dt.timedelta(weeks=1)]
    assert len(proposed(town, weeks=4)) == 2


def test_a_studio_closed_for_good_is_not_looked_at_for_ever(town: Town) -> None:
    Closure.objects.create(
        studio=town.hot_shop, first_day=FIRST_MONDAY, last_day=dt.date(2190, 1, 1), reason="sold"
    )

    assert len(proposed(town)) == 53


@pytest.mark.parametrize(
    ("country", "region", "field"),
    [("XX", "", "holiday_country"), ("DE", "ENG", "holiday_region"), ("", "BY", "holiday_region")],
)
def test_a_country_and_region_that_are_not_known_are_refused(
    town: Town, country: str, region: str, field: str
) -> None:
    with pytest.raises(ValidationError) as refused:
        in_country(town, country, region)

    assert field in refused.value.message_dict


def test_countries_are_known_by_their_two_letters() -> None:
    assert {"DE", "GB", "US", "JP"} <= set(regions())
    assert {len(country) for country in regions()} == {2}
