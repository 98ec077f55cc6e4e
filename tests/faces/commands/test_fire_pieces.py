"""The command that plans the firings of pieces, and books them."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command

from scheduling.management.kiln_jobs import booked_lines, planned_lines
from scheduling.models import Firing, KilnJob, KilnJobStatus, Piece
from scheduling.services.kiln_booking import book
from studios.models import Mould
from tests.services.kiln_work import a_job, answered, far_kiln, split_plan, with_shelves
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def town_with_shelves(town: Town) -> Iterator[Town]:
    with_shelves(town)
    Mould.objects.create(studio=town.flame, name="Bowl", count=4, length_mm=110, width_mm=110)
    with time_machine.travel(local(0, 9), tick=False):
        yield town


def fire(town: Town, *more: str, size: str = "4x100x100=Bowl") -> list[str]:
    """What the command prints."""
    printed = StringIO()
    asked = ["--title", "Dishes", "--owner", town.instructor.email, "--studio", "flame", "--size", size]
    glass = ["--glass", "fusing-90", "--thickness", "6", "--route", "fuse-slump"]
    arrives = ["--arrives", f"{local(1, 9):%Y-%m-%dT%H:%M}"]
    call_command("fire_pieces", *asked, *glass, *arrives, *more, stdout=printed)
    return printed.getvalue().splitlines()


def test_a_plan_is_told_with_its_nights_and_nothing_is_held(town_with_shelves: Town) -> None:
    told = fire(town_with_shelves)

    assert told[0].startswith("full fuse in the kiln: 4 pieces, one shelf ")
    assert any(line.startswith("slump in the kiln: 4 pieces, one shelf ") for line in told)
    assert any(line.startswith("All can be handed back from ") for line in told)
    assert told[-1].startswith("Nothing is held. Dishes (")
    assert KilnJob.objects.get().status == KilnJobStatus.ASKED
    assert not Firing.objects.exists()


def test_what_was_found_is_booked(town_with_shelves: Town) -> None:
    told = fire(town_with_shelves, "--book")

    job = KilnJob.objects.get()
    assert told[-1] == f"Booked: Dishes ({job.uid})"
    assert job.status == KilnJobStatus.BOOKED
    assert Firing.objects.count() == 2
    assert Piece.objects.filter(stands__isnull=False).distinct().count() == 4


def test_of_two_studios_each_is_named_with_its_pieces_and_its_time(town_with_shelves: Town) -> None:
    town = town_with_shelves
    job = a_job(town, studios=[town.flame, town.hot_shop])
    plan = split_plan(job, town.equipment["kiln"], far_kiln(town))

    told = list(planned_lines(plan))
    book(actor=town.instructor, answer=answered(job, plan))
    held = list(booked_lines(job))

    assert told[0].startswith("full fuse in the kiln at Flame: 4 pieces")
    assert told[2].startswith("full fuse in the far kiln at Hot shop: 2 pieces")
    assert told[-3].startswith("Flame fires 4 of the pieces; they can be handed back there from ")
    assert told[-2].startswith("Hot shop fires 2 of the pieces; they can be handed back there from ")
    assert held[-3:-1] == told[-3:-1]
    assert held[-1].removesuffix(".") + " (no plan is ready earlier)." == told[-1]


def test_any_of_several_studios_may_fire_them(town_with_shelves: Town) -> None:
    fire(town_with_shelves, "--studio", "hot-shop")

    assert {studio.slug for studio in KilnJob.objects.get().studios.all()} == {"flame", "hot-shop"}


@pytest.mark.parametrize(
    ("size", "said"),
    [
        ("four dishes", "'four dishes' is no size; write it like 16x100x100, or 12x120 for round pieces."),
        ("1x100x100=Vase", "Flame has no mould 'Vase'; it has: Bowl."),
        ("0x100x100", "Say how many pieces there are of each size: 1 to 500 in all."),
    ],
)
def test_a_size_that_is_none_is_answered_with_what_to_type(
    town_with_shelves: Town, size: str, said: str
) -> None:
    with pytest.raises(CommandError) as refused:
        fire(town_with_shelves, size=size)

    assert str(refused.value) == said
    assert not KilnJob.objects.exists()


def test_a_plan_that_there_is_not_is_said_with_its_reason(town_with_shelves: Town) -> None:
    with pytest.raises(CommandError, match=r"^No plan; nothing is booked\. .*900"):
        fire(town_with_shelves, size="1x900x900")
