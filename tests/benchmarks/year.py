"""A year of a busy network, made up: 40 pieces of equipment with 100,000 occupancies, for measuring only."""

from __future__ import annotations

import random
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from scheduling.engine.records import Apparatus, Ask, Duty, Kind, StudioRecord, Taken
from scheduling.engine.spans import Span
from scheduling.engine.world import World
from studios.thermal import Policy

YEAR_MIN = 365 * 24 * 60
PIECES = 40
OCCUPANCIES = 100_000
# Six kinds, each held from so long before the start to so long after its end.
NEEDS: dict[Kind, tuple[int, int]] = {
    Kind.FURNACE: (0, 0),
    Kind.TORCH: (5, 10),
    Kind.BENCH: (15, 20),
    Kind.COLD_STATION: (10, 5),
    Kind.KILN: (30, 25),
    Kind.ANNEALER: (20, 40),
}
TEACH_MIN = 45


@dataclass(frozen=True, kw_only=True)
class Window:
    """One of the six: when it is taken, in order, and how it is held around a start."""

    taken: tuple[Span, ...]
    before: int
    after: int


def busy(number: int) -> tuple[Span, ...]:
    """Occupancies of one piece, as dense as a year holds them, with gaps between them."""
    chance = random.Random(number)
    count = OCCUPANCIES // PIECES
    edges = sorted(chance.sample(range(0, YEAR_MIN, 2), 2 * count))
    return tuple(zip(edges[::2], edges[1::2], strict=True))


def year() -> tuple[World, Ask, list[Window]]:
    """The world, the question for six of its pieces at once, and the same six as plain windows."""
    kinds = list(NEEDS)
    things = [_thing(number, kinds[number] if number < 6 else Kind.PIPE_WARMER) for number in range(PIECES)]
    spans = {thing.id: busy(thing.id) for thing in things}
    world = World(
        now=0,
        horizon=(0, YEAR_MIN),
        studios={1: _studio()},
        apparatus={thing.id: thing for thing in things},
        taken={
            key: tuple(Taken(apparatus_id=key, place=1, span=s, core=s, held_by="a class") for s in own)
            for key, own in spans.items()
        },
        supplies={},
    )
    ask = Ask(
        title="a class",
        studio_id=1,
        teach_min=TEACH_MIN,
        stations=tuple((kind, 1) for kind in kinds),
        notice=False,
    )
    windows = [
        Window(taken=spans[number], before=before, after=TEACH_MIN + after)
        for number, (before, after) in enumerate(NEEDS.values())
    ]
    return world, ask, windows


def _studio() -> StudioRecord:
    return StudioRecord(
        id=1,
        name="Studio",
        zone=ZoneInfo("UTC"),
        fahrenheit=False,
        notice_min=0,
        electric_unattended=True,
        hold_gap_min=0,
        policy=Policy(),
        staffed=dict.fromkeys(Duty, ((-YEAR_MIN, 2 * YEAR_MIN),)),
    )


def _thing(number: int, kind: Kind) -> Apparatus:
    before, after = NEEDS.get(kind, (0, 0))
    return Apparatus(
        id=number,
        studio_id=1,
        active=True,
        kind=kind,
        name=f"{kind.value} {number}",
        number=number,
        places=1,
        station_id=None,
        bodies=(),
        gas_fired=False,
        working_c=None,
        touch_c=50.0,
        prepare_min=before,
        clear_min=after,
        capacity_cm2=0,
        controller_segments=None,
        draws=(),
    )
