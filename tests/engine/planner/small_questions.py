"""Small questions made at random: up to eight loads, three kilns, five nights.

Their clock is coarse, a minute of it is an hour, so that every start of everything can be tried.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from scheduling.engine.planner.loads import (
    Attended,
    Gap,
    KilnWay,
    LoadFiring,
    Question,
    StationTaken,
    SupplyLimit,
)
from scheduling.engine.spans import Span

DAY = 24
POWER = 3


def small_question(seed: int, most: int = 8) -> Question:
    """With so many loads at most; where there are many, each night has fewer minutes to start in."""
    random = Random(seed)
    nights, kilns = random.choice([2, 3, 4, 5, 5, 5]), random.choice([1, 2, 3, 3])
    hours = tuple(_staffed(random, day) for day in range(nights + 1))
    count = min(random.choice([2, 3, 4, 5, 6, 7, 8, 8]), max(nights * kilns * 2 // 3, 2), most)
    longest = 4 if count < 6 else 2
    kinds = [tuple(_ways(random, kilns, hours, longest)) for _ in range(random.randint(1, 3))]
    loads = [f"load {number}" for number in range(count)]
    steps = [f"step {number}" for number in range(random.randint(0, 2))]
    return Question(
        firings=tuple(LoadFiring(key=load, ways=random.choice(kinds)) for load in loads),
        attended=tuple(_step(random, step, hours) for step in steps),
        gaps=tuple(_gaps(random, loads, steps)),
        supplies=tuple(_supplies(random, nights)),
        stations=(StationTaken(id=7, taken=((DAY + 10, DAY + 12),)),),
        arrives=random.choice([0, 0, 9, 14]),
        days=((1, tuple((day * DAY, (day + 1) * DAY) for day in range(nights + 1))),),
    )


def _staffed(random: Random, day: int) -> Span:
    return day * DAY + random.randint(8, 10), day * DAY + random.randint(13, 19)


def _ways(random: Random, kilns: int, hours: tuple[Span, ...], longest: int) -> Iterator[KilnWay]:
    """A slow program ends on the next day or later; a quick one is unloaded on the day, if somebody stays."""
    tail, draw = random.choice([6, 12, 16, 20, 26]), random.choice([0.0, 3.3, 5.5])
    for kiln_id in random.sample(range(kilns), random.randint(1, kilns)):
        starts = [_a_start(random, span, longest) for span in hours[:-1] if random.random() < 0.9]
        yield KilnWay(
            kiln_id=kiln_id,
            starts=tuple(starts),
            prepare_min=random.choice([0, 1, 2]),
            tail_min=tail + kiln_id,
            switching_min=tail // 2,
            clear_min=random.choice([1, 2]),
            unload_staffed=tuple(span for span in hours if random.random() < 0.9),
            draws=((POWER, draw),) if draw else (),
            cost=random.choice([1.0, 1.5, 2.25]),
            studio_id=1,
        )


def _a_start(random: Random, span: Span, longest: int) -> Span:
    begin = random.randint(span[0], span[1] - 1)
    return begin, min(begin + random.randint(1, longest), span[1])


def _step(random: Random, key: str, hours: tuple[Span, ...]) -> Attended:
    return Attended(
        key=key,
        minutes=random.choice([1, 2, 3]),
        starts=tuple((begin, end - 3) for begin, end in hours),
        stations=random.choice([None, (7,), (7, 8)]),
        studio_id=1,
    )


def _gaps(random: Random, loads: list[str], steps: list[str]) -> Iterator[Gap]:
    """Steps come between two loads; some loads follow others at once, or before long."""
    for step in steps:
        before, after = sorted(random.sample(loads, 2))
        yield _gap(random, before, step)
        if random.random() < 0.7:
            yield _gap(random, step, after)
    for before, after in zip(loads[::2], loads[1::2], strict=False):
        if random.random() < 0.3:
            yield _gap(random, before, after)


def _gap(random: Random, before: str, after: str) -> Gap:
    least = random.choice([0, 0, 3, 10])
    greatest = random.choice([None, None, least + 24, least + 48])
    return Gap(before=before, after=after, least_min=least, greatest_min=greatest)


def _supplies(random: Random, nights: int) -> Iterator[SupplyLimit]:
    begin = random.randint(0, nights * DAY)
    drawn = ((begin, begin + 12), random.choice([2.2, 4.4]))
    yield SupplyLimit(id=POWER, limit=random.choice([4.4, 6.6, 11.0, 11.0, 16.5, 20.0]), drawn=(drawn,))
