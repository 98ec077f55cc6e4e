"""Booking a class from the terminal."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from scheduling.models import Booking, Occupancy, Session
from tests.worlds import Town, local

BLOWING = {
    "--course": "blowing",
    "--studio": "hot-shop",
    "--instructor": "instructor@town.example",
    "--at": "2031-03-04T18:00",
}
OUT_OF_THE_BOOK = (
    "9999-12-31T23:59",
    "9999-12-31T23:59-23:59",
    "0001-01-01T00:00",
    "0001-01-01T00:00+23:59",
    "1999-12-31T23:59",
    "2201-01-01T00:00",
)


def book(*flags: str, **changes: str) -> str:
    """What the command prints for the blowing class, with some arguments changed."""
    asked = {**BLOWING, **{f"--{name}": value for name, value in changes.items()}}
    printed = StringIO()
    call_command("book_class", *(word for pair in asked.items() for word in pair), *flags, stdout=printed)
    return printed.getvalue()


def test_a_booked_class_is_printed_with_all_that_it_holds(town: Town) -> None:
    printed = book()

    session = Session.objects.get()
    assert session.starts_at == local(1, 18)
    assert session.booking.booked_by == town.instructor
    assert str(session.uid) in printed
    held = Occupancy.objects.filter(booking=session.booking) | Occupancy.objects.exclude(firing=None)
    assert {occupancy.equipment.kind for occupancy in held} >= {"furnace", "glory-hole", "bench", "annealer"}
    for occupancy in held:
        assert occupancy.equipment.name in printed
    assert "Tue  4 Mar 18:00  Tue  4 Mar 21:00  510 °C" in printed


def test_a_dry_run_prints_the_same_hours_and_books_nothing(town: Town) -> None:
    foreseen = book("--dry-run").splitlines()
    assert not Booking.objects.exists()

    booked = book().splitlines()

    assert foreseen[0] == "This would be held; nothing was booked."
    assert sorted(booked[1:]) == sorted(foreseen[1:])


def test_the_studio_is_shown_its_own_unit(town: Town) -> None:
    town.hot_shop.temperature_unit = "F"
    town.hot_shop.save()

    assert "950 °F" in book("--dry-run")


def test_a_time_with_an_offset_is_an_instant(town: Town) -> None:
    book(at="2031-03-05T00:00+00:00")

    assert Session.objects.get().starts_at == local(1, 18)


def test_a_manager_books_for_the_instructor(town: Town) -> None:
    book(by="manager@town.example")

    session = Session.objects.get()
    assert session.instructor == town.instructor
    assert session.booking.booked_by == town.manager


def test_a_dry_run_at_a_taken_hour_names_the_reason_and_the_next_start(town: Town) -> None:
    book()

    with pytest.raises(CommandError, match=r"Instructor.* The next start that works: "):
        book("--dry-run")


@pytest.mark.parametrize(
    ("argument", "value", "sentence"),
    [
        (
            "course",
            "cooking",
            "There is no course 'cooking'; there are: beads, blowing, boro, paperweights, tiles.",
        ),
        ("studio", "barn", "There is no studio 'barn'; there are: flame, hot-shop."),
        (
            "instructor",
            "nobody@town.example",
            "Nobody signs in as 'nobody@town.example'; the admin lists everybody.",
        ),
        ("by", "nobody@town.example", "Nobody signs in as 'nobody@town.example'; the admin lists everybody."),
        ("at", "tea time", "'tea time' is no time; write it like 2027-03-09T18:00."),
        (
            "at",
            "2031-03-09T02:30",
            (
                "2031-03-09 02:30 does not exist in America/Chicago, where the clocks jump over it; "
                "the next time is 2031-03-09 03:00."
            ),
        ),
        (
            "at",
            "2031-03-04T18:00:30",
            "'2031-03-04T18:00:30' has seconds; a time is given to the minute, like 2027-03-09T18:00.",
        ),
        ("studio", "flame", "blowing is not taught at Flame."),
        *(("at", time, "The book goes from 2000 to 2200; choose a time in it.") for time in OUT_OF_THE_BOOK),
    ],
)
def test_wrong_input_is_answered_in_one_line_and_nothing_is_booked(
    town: Town, argument: str, value: str, sentence: str
) -> None:
    with pytest.raises(CommandError) as refused:
        book(**{argument: value})

    assert str(refused.value) == sentence
    assert not Booking.objects.exists()


@pytest.mark.parametrize("time", OUT_OF_THE_BOOK)
def test_a_dry_run_outside_the_book_s_years_is_answered_in_one_line(town: Town, time: str) -> None:
    with pytest.raises(CommandError, match="The book goes from 2000 to 2200"):
        book("--dry-run", at=time)


def test_a_student_cannot_book_a_class(town: Town) -> None:
    with pytest.raises(CommandError, match="needs the role"):
        book(by="student@town.example")

    assert not Booking.objects.exists()
