"""One studio with a few pieces of equipment, always staffed, for worlds that are written down by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from zoneinfo import ZoneInfo

from scheduling.engine.records import Apparatus, Ask, Duty, Kind, StudioRecord, SupplyRecord, Taken
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.minutes import Stretch
from tests.engine.reference.slow import starts_that_work
from tests.engine.reference.town import POLICY, SOFT, fired, piece

END = 5000


def studio(hours: Mapping[Duty, tuple[Stretch, ...]]) -> StudioRecord:
    """Staffed all the time but for the duties whose hours are given."""
    return StudioRecord(
        id=1,
        name="Studio",
        zone=ZoneInfo("UTC"),
        fahrenheit=False,
        notice_min=0,
        electric_unattended=True,
        hold_gap_min=60,
        policy=POLICY,
        staffed={duty: hours.get(duty, ((0, END),)) for duty in Duty},
    )


def world_of(
    things: Iterable[Apparatus],
    *,
    taken: Iterable[Taken] = (),
    supplies: Iterable[SupplyRecord] = (),
    hours: Mapping[Duty, tuple[Stretch, ...]] | None = None,
) -> World:
    """These things and nothing else; it is minute 0."""
    claims = sorted(taken, key=lambda claim: claim.span)
    return World(
        now=0,
        horizon=(0, END),
        studios={1: studio(hours or {})},
        apparatus={each.id: each for each in things},
        taken={each.id: tuple(c for c in claims if c.apparatus_id == each.id) for each in things},
        supplies={supply.id: supply for supply in supplies},
    )


def an_hour(*stations: tuple[Kind, int], fires: tuple[Kind, ...] = ()) -> Ask:
    """A class of an hour, with beads of soft glass where they are fired."""
    return Ask(
        title="class",
        studio_id=1,
        teach_min=60,
        stations=stations,
        firings=tuple(fired(kind, piece(SOFT, 10.0), 60) for kind in fires),
    )


def both_find(world: World, ask: Ask) -> tuple[set[int], set[int]]:
    """The starts in the first 1,000 minutes: those of the start space, and those of the slow judge."""
    space = start_space(world, ask, 0, 1000)
    return {minute for span in space for minute in range(*span)}, starts_that_work(world, ask, 0, 1000)
