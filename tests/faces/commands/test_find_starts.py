"""Looking for a start from the terminal."""

from __future__ import annotations

import datetime as dt
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from scheduling.models import Booking, Outage
from studios.models import Closure
from tests.faces.web.bookings import a_class
from tests.worlds import KILN, Town, add_equipment, local

BLOWING = ("--course", "blowing", "--studio", "hot-shop", "--instructor", "instructor@town.example")
WEEK = ("--from", "2031-03-03", "--to", "2031-03-09")
TUESDAYS = ("--from", "2031-03-04", "--weekly", "4")


def find(*words: str) -> str:
    """What the command prints for the blowing class."""
    printed = StringIO()
    call_command("find_starts", *BLOWING, *words, stdout=printed)
    return printed.getvalue()


def test_the_best_starts_come_first_with_everything_they_hold(town: Town) -> None:
    printed = find(*WEEK, "--order", "attended")

    assert printed.startswith("7 starts, by what counts: least held while nobody is there.\n1. ")
    assert "to 21:00 at Hot shop" in find(*WEEK, "--order", "nearest", "--time", "18:00")
    for name in ("furnace, place 1", "hole 1", "bench 1", "warmer 1", "annealer"):
        assert printed.count(name) >= 7
    assert "510 °C" in printed
    assert not Booking.objects.exists()


def test_no_more_than_asked_for(town: Town) -> None:
    assert find(*WEEK, "--most", "2").startswith("2 starts, by what counts: earliest.")


def test_a_start_that_works_is_shown_with_all_that_it_holds(town: Town) -> None:
    printed = find("--at", "2031-03-04T18:00")

    assert printed.startswith("Tue  4 Mar 18:00 at Hot shop works, and would hold:\n")
    assert "annealer 1" in printed


def test_a_start_that_does_not_work_gives_every_reason_and_what_would_open_it(town: Town) -> None:
    a_class(town)

    lines = find("--at", "2031-03-04T18:00").splitlines()

    assert lines[0] == "Tue  4 Mar 18:00 at Hot shop does not work:"
    assert lines[1].startswith("   Instructor has blowing from Tue 4 Mar 18:00")
    opened = lines[lines.index("What would open it:") + 1 :]
    assert any("later, at" in line for line in opened)
    assert any("earlier, at" in line for line in opened)


def test_a_class_that_is_to_be_over_by_eight(town: Town) -> None:
    by_eight = ("--over-by", "20:00")

    assert "to 20:00 at Hot shop" in find(*WEEK, "--order", "nearest", "--time", "18:00", *by_eight)
    assert "It was asked to be over by 20:00; blowing" in find("--at", "2031-03-04T18:00", *by_eight)
    assert "to 17:00" in find(*TUESDAYS, *by_eight)
    with pytest.raises(CommandError, match="'eight' is no time of day"):
        find(*WEEK, "--over-by", "eight")


def test_another_studio_may_be_the_way_out(town: Town) -> None:
    add_equipment(town, town.hot_shop, "kiln", "spare kiln", capacity_cm2=3000, body=KILN)
    add_equipment(town, town.hot_shop, "cold-station", "spare saw")
    town.courses["tiles"].studios.add(town.hot_shop)
    Outage.objects.create(
        equipment=town.equipment["kiln"], starts_at=local(0, 8), ends_at=local(2, 8), reason="new shelf"
    )
    printed = StringIO()

    call_command(
        "find_starts",
        *("--course", "tiles", "--studio", "flame", "--studio", "hot-shop"),
        *("--instructor", "instructor@town.example", "--at", "2031-03-04T18:00"),
        stdout=printed,
    )

    refused, works = printed.getvalue().split("Tue  4 Mar 18:00 at Hot shop works, and would hold:")
    assert refused.startswith("Tue  4 Mar 18:00 at Flame does not work:")
    assert "What would open it:\n   At Hot shop the same start works.\n" in refused
    assert "spare kiln" in works


def test_where_nothing_works_it_says_so(town: Town) -> None:
    Closure.objects.create(
        studio=town.hot_shop, first_day=dt.date(2031, 3, 3), last_day=dt.date(2031, 3, 9), reason="fair"
    )

    assert find(*WEEK) == "No start works on these days; --at says why one does not.\n"


def test_a_weekly_class_has_its_times_and_its_meetings(town: Town) -> None:
    printed = find(*TUESDAYS, "--time", "18:00")

    assert printed.startswith("4 meetings at Hot shop: Tue 4 Mar 2031 to Tue 25 Mar 2031\n")
    assert "Times that work every week:" in printed
    assert printed.count("18:00 to 21:00\n") == 4
    assert printed.count("annealer 1") == 4


def test_the_week_that_spoils_a_time_is_said_with_its_reason(town: Town) -> None:
    a_class(town)

    printed = find("--from", "2031-02-25", "--weekly", "3", "--time", "18:00")

    assert "Times that would work but for these weeks:" in printed
    assert ", but for Tue 4 Mar 2031" in printed
    assert "Tue  4 Mar 18:00: Instructor has blowing" in printed


def test_closed_days_are_named_until_they_are_left_out(town: Town) -> None:
    second = dt.date(2031, 3, 11)
    Closure.objects.create(studio=town.hot_shop, first_day=second, last_day=second, reason="fair")

    kept, left_out = find(*TUESDAYS), find(*TUESDAYS, "--skip", "2031-03-11")

    assert "meets on Tue 11 Mar 2031 (closed: fair; --skip 2031-03-11 leaves it out)" in kept
    assert "Times that work every week:" not in kept
    assert "left out Tue 11 Mar 2031 (closed: fair)" in left_out
    assert "Tue 4 Mar 2031 to Tue 1 Apr 2031" in left_out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--from", "2031-03-09", "--to", "2031-03-03"), "--to lies on --from or after it"),
        (("--from", "2031-03-03", "--to", "2031-06-03"), "at most 92 days are searched"),
        (("--from", "Tuesday"), "'Tuesday' is no day; write it like 2027-03-09."),
        (("--time", "noon"), "'noon' is no time of day; write it like 18:00."),
        (("--at", "noon"), "'noon' is no time; write it like 2027-03-09T18:00."),
        (("--order", "nearest"), "--order nearest needs --time"),
        (("--order", "cheapest"), "invalid choice: 'cheapest'"),
        (("--most", "0"), "--most is at least 1."),
        (("--weekly", "53"), "between 1 and 52 meetings"),
        (("--weekly", "4", "--studio", "flame"), "A weekly class meets at one studio"),
        (("--at", "9999-12-31T23:59"), "The book goes from 2000 to 2200"),
    ],
)
def test_wrong_input_is_answered_in_one_line(town: Town, words: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(CommandError) as refused:
        find(*words)

    assert sentence in str(refused.value)
    assert "\n" not in str(refused.value)


def test_who_is_not_signed_off_is_told_so(town: Town) -> None:
    town.instructor.qualifications.filter(kind="furnace").delete()

    with pytest.raises(CommandError, match="is not signed off for furnace at Hot shop"):
        find(*WEEK)
