"""Reserving a torch from the terminal: in a class, or in open bench time."""

from __future__ import annotations

import uuid
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from scheduling.models import Seat, Session
from scheduling.services.booking import book_session
from tests.worlds import Town, local

STUDENT = "student@town.example"
BENCH = ("--studio", "flame", "--torch", "7", "--at", "2031-03-05T14:00")


def reserve(*arguments: str, person: str = STUDENT) -> str:
    """What the command prints."""
    printed = StringIO()
    call_command("reserve_torch", "--person", person, *arguments, stdout=printed)
    return printed.getvalue()


def beads(town: Town) -> Session:
    """An evening bead class at five torches."""
    return book_session(
        actor=town.instructor,
        course=town.courses["beads"],
        studio=town.flame,
        instructor=town.instructor,
        starts_at=local(3, 18),
    )


def test_bench_time_at_a_numbered_torch(town: Town) -> None:
    printed = reserve(*BENCH, "--minutes", "90")

    seat = Seat.objects.get()
    assert (seat.torch, seat.person) == (town.torches[6], town.student)
    assert (seat.starts_at, seat.ends_at) == (local(2, 14), local(2, 15, 30))
    assert printed == "Reserved: torch 7 at Flame for Student, Wed  5 Mar 14:00 to 15:30, open bench time\n"


def test_an_hour_when_no_length_is_said(town: Town) -> None:
    reserve(*BENCH)

    assert Seat.objects.get().ends_at == local(2, 15)


def test_a_seat_in_a_class_comes_with_a_torch_of_it(town: Town) -> None:
    session = beads(town)

    printed = reserve("--session", str(session.uid))

    seat = Seat.objects.get()
    assert seat.session == session
    assert seat.torch is not None
    assert f"Reserved: {seat.torch} at Flame for Student" in printed


def test_a_seat_in_a_class_at_the_torch_that_was_asked_for(town: Town) -> None:
    session = beads(town)

    reserve("--session", str(session.uid), "--torch", "3")

    assert Seat.objects.get().torch == town.torches[2]


def test_a_torch_that_is_taken_is_refused_in_a_line(town: Town) -> None:
    reserve(*BENCH)

    with pytest.raises(CommandError, match="torch 7 is held by open bench time"):
        reserve(*BENCH, person="other.student@town.example")

    assert Seat.objects.count() == 1


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ((), "Name a class with --session, or add --studio and --torch and --at for bench time."),
        (("--studio", "flame", "--torch", "7"), "Name a class with --session, or add --at for bench time."),
        (
            (*BENCH[:2], "--torch", "9", *BENCH[4:]),
            "Flame has no torch 9; its torches: 1, 2, 3, 4, 5, 6, 7, 8.",
        ),
        (("--studio", "hot-shop", *BENCH[2:]), "Hot shop has no torch 7; its torches: none."),
        ((*BENCH, "--minutes", "0"), "--minutes is how long the torch is used: from 15 to 720."),
        ((*BENCH, "--minutes", "14"), "--minutes is how long the torch is used: from 15 to 720."),
        ((*BENCH, "--minutes", "9" * 20), "--minutes is how long the torch is used: from 15 to 720."),
        ((*BENCH[:5], "9999-12-31T23:59"), "The book goes from 2000 to 2200; choose a time in it."),
        ((*BENCH[:5], "0001-01-01T00:00"), "The book goes from 2000 to 2200; choose a time in it."),
        (
            (*BENCH[:2], "--torch", "9" * 20, *BENCH[4:]),
            f"Flame has no torch {'9' * 20}; its torches: 1, 2, 3, 4, 5, 6, 7, 8.",
        ),
        (("--session", "seven"), "'seven' is no UID of a class; book_class prints it."),
        (("--session", str(uuid.UUID(int=7))), f"There is no class with the UID {uuid.UUID(int=7)}."),
    ],
)
def test_wrong_input_is_answered_in_one_line(town: Town, arguments: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(CommandError) as refused:
        reserve(*arguments)

    assert str(refused.value) == sentence
    assert not Seat.objects.exists()


def test_torch_nought_is_no_torch_of_a_class(town: Town) -> None:
    session = beads(town)

    with pytest.raises(CommandError, match="Flame has no torch 0"):
        reserve("--session", str(session.uid), "--torch", "0")

    assert not Seat.objects.exists()
