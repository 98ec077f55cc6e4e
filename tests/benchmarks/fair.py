"""Forty loads of a fair: twenty are fused, ground and slumped, in four kilns, over three weeks."""

from __future__ import annotations

from random import Random

from scheduling.engine.planner.loads import Attended, Gap, KilnWay, LoadFiring, Question, SupplyLimit, Wish
from scheduling.engine.spans import Span

HOUR = 60
DAY = 24 * HOUR
DAYS = 21
KILNS = 4
POWER = 1
SUNDAY = 6


def fair(aim: Wish, pairs: int = 20) -> Question:
    """Each kiln is booked on three nights already; nobody comes on Sundays; three kilns can draw at once."""
    random = Random(1)
    booked = [frozenset(random.sample(range(DAYS), 3)) for _ in range(KILNS)]
    numbers = range(pairs)
    fused = (LoadFiring(key=("fused", n), ways=_ways(booked, 16 * HOUR + n % 3 * 45)) for n in numbers)
    slumped = (LoadFiring(key=("slumped", n), ways=_ways(booked, 12 * HOUR + n % 3 * 30)) for n in numbers)
    return Question(
        firings=(*fused, *slumped),
        attended=tuple(
            Attended(key=("ground", n), minutes=HOUR, starts=_hours(9, 16), stations=(1, 2)) for n in numbers
        ),
        gaps=tuple(gap for n in numbers for gap in _gaps(n)),
        supplies=(SupplyLimit(id=POWER, limit=30.0, drawn=(((3 * DAY + 600, 3 * DAY + 900), 9.0),)),),
        arrives=8 * HOUR,
        aim=aim,
    )


def _ways(booked: list[frozenset[int]], tail_min: int) -> tuple[KilnWay, ...]:
    return tuple(
        KilnWay(
            kiln_id=kiln_id,
            starts=tuple(span for span in _hours(9, 17, 30) if span[0] // DAY not in nights),
            prepare_min=30,
            tail_min=tail_min + kiln_id * 40,
            switching_min=tail_min // 2,
            clear_min=20,
            unload_staffed=_hours(9, 17),
            draws=((POWER, 8.0 + kiln_id),),
            cost=3.0 + 0.7 * kiln_id,
        )
        for kiln_id, nights in enumerate(booked)
    )


def _hours(begin: int, end: int, later_min: int = 0) -> tuple[Span, ...]:
    days = (day for day in range(DAYS) if day % 7 != SUNDAY)
    return tuple((day * DAY + begin * HOUR + later_min, day * DAY + end * HOUR) for day in days)


def _gaps(number: int) -> tuple[Gap, Gap]:
    return (
        Gap(before=("fused", number), after=("ground", number), greatest_min=4 * DAY),
        Gap(before=("ground", number), after=("slumped", number), least_min=HOUR, greatest_min=6 * DAY),
    )
