"""What a process keeps of the studios from one question to the next, and how it stays true.

    a question --studios, hours--> the counts of what was written (one query) --> what differs is read again
        --> claims are added and taken out in place --> the world of the question

Every count is raised by the database in the transaction that writes (`scheduling.revised`). So a process
never offers what another one has sold before it was asked. People, and what they have promised, are few
rows and are read for each question.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import connection
from django.db.models import Q
from django.utils import timezone

from scheduling.claimed import Claimed, claimed_at
from scheduling.engine.clock import ceil_minutes
from scheduling.engine.records import Kind, Taken, Use
from scheduling.engine.spans import Span
from scheduling.engine.world import World
from scheduling.models import Revision
from scheduling.revised import Revised
from scheduling.snapshot import DAY, engagements, load_world, set_up, supplies_of
from scheduling.stored import charges_of, pots_of, refills_of, stores_of
from studios.models import Equipment, Person, Studio, Supply

Counts = dict[tuple[str, int], int]
# What is loaded goes so much further than was asked, so that tomorrow's questions find it; and not beyond.
AHEAD_MIN, MOST_KEPT_MIN = 60 * DAY, 500 * DAY
MOST_TRIES = 5


@dataclass(kw_only=True)
class Kept:
    """One studio as it stands: its part of the world, its rows of equipment, and the counts of both.

    All that is taken after `since` is in it, however far ahead.
    """

    part: World
    equipment: Mapping[int, Equipment]
    since: int
    counts: Counts


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known for a question."""

    world: World
    equipment: Mapping[int, Equipment]


_kept: dict[int, Kept] = {}
# What is kept changes in place, so one question is answered after another.
_one_at_a_time = threading.RLock()


@contextmanager
def known(studios: Iterable[Studio], horizon: Span, people: Iterable[Person] = ()) -> Iterator[Known]:
    """The world of a question, as it stands in the database now; no other question is answered meanwhile.

    Within a transaction, which may yet be undone, nothing is kept: all is loaded for this question alone.
    """
    persons, rows = list(people), list(studios)
    if connection.in_atomic_block:
        yield Known(world=load_world(rows, horizon, persons), equipment=_equipment(row.pk for row in rows))
        return
    with _one_at_a_time:
        ids = sorted({row.pk for row in rows})
        _refresh(ids, horizon)
        world = World.together(
            [_kept[key].part for key in ids],
            now=ceil_minutes(timezone.now()),
            people=engagements(persons, horizon),
            names={person.pk: person.name for person in persons},
        )
        yield Known(world=world, equipment={k: row for key in ids for k, row in _kept[key].equipment.items()})


def forget() -> None:
    """Nothing is kept any more."""
    with _one_at_a_time:
        _kept.clear()


def _equipment(studios: Iterable[int]) -> dict[int, Equipment]:
    return Equipment.objects.filter(studio_id__in=list(studios)).select_related("studio").in_bulk()


def _refresh(ids: Sequence[int], horizon: Span) -> None:
    """Read again what has been written since it was read; and once more where more is written meanwhile."""
    for _ in range(MOST_TRIES):
        counts = _counts(ids)
        stale = [key for key in ids if key not in _kept or not _stands(_kept[key], horizon, counts)]
        changed = {key: _changed(_kept[key], counts) for key in ids if key not in stale}
        if not stale and not any(changed.values()):
            return
        _load(stale, horizon, counts)
        for key, equipment in changed.items():
            _reread(_kept[key], equipment)
            _kept[key].counts = _own(_kept[key].part, counts)


def _counts(ids: Sequence[int]) -> Counts:
    """How often what these studios consist of has changed, in one query."""
    equipment = Equipment.objects.filter(studio_id__in=ids).values("pk")
    supplies = Supply.objects.filter(studio_id__in=ids).values("pk")
    wanted = Q(kind=Revised.SET_UP) | Q(kind=Revised.REFILLS, key__in=supplies)
    wanted |= Q(kind__in=[Revised.EQUIPMENT, Revised.CHARGES], key__in=equipment)
    rows = Revision.objects.filter(wanted).values_list("kind", "key", "number")
    return {(kind, key): number for kind, key, number in rows}


def _own(part: World, counts: Counts) -> Counts:
    """The counts that one studio goes by."""
    keys = [(Revised.SET_UP, 0), *((Revised.REFILLS, key) for key in part.supplies)]
    keys += [(kind, key) for kind in (Revised.EQUIPMENT, Revised.CHARGES) for key in part.apparatus]
    return {(kind.value, key): counts.get((kind.value, key), 0) for kind, key in keys}


def _stands(kept: Kept, horizon: Span, counts: Counts) -> bool:
    """Whether a studio need not be loaded anew: only what is taken there may have changed."""
    within = kept.part.horizon[0] <= horizon[0] and horizon[1] <= kept.part.horizon[1]
    others = ((key, number) for key, number in kept.counts.items() if key[0] != Revised.EQUIPMENT)
    return within and all(counts.get(key, 0) == number for key, number in others)


def _changed(kept: Kept, counts: Counts) -> list[int]:
    """The equipment of which something else is taken now."""
    return [
        key
        for (kind, key), number in kept.counts.items()
        if kind == Revised.EQUIPMENT and counts.get((kind, key), 0) != number
    ]


def _load(ids: Sequence[int], horizon: Span, counts: Counts) -> None:
    """Load studios whole."""
    if not ids:
        return
    for key, part in _parts(ids, _wider(ids, horizon)).items():
        _kept[key] = part
        part.counts = _own(part.part, counts)


def _wider(ids: Sequence[int], horizon: Span) -> Span:
    """The hours asked for and those that were kept, as long as that is not too much."""
    known = [_kept[key].part.horizon for key in ids if key in _kept]
    begin = min([horizon[0], *(span[0] for span in known)])
    end = max([horizon[1] + AHEAD_MIN, *(span[1] for span in known)])
    return (begin, end) if end - begin <= MOST_KEPT_MIN else (horizon[0], horizon[1] + AHEAD_MIN)


def _parts(ids: Sequence[int], horizon: Span) -> dict[int, Kept]:
    found = set_up(ids, horizon)
    furnaces = [one.id for one in found.apparatus.values() if one.kind is Kind.FURNACE]
    known = [*refills_of(found.supplies, horizon[0]).values(), *charges_of(furnaces, horizon[0]).values()]
    since = min([horizon[0], *(each[0][0] for each in known)])
    claimed = claimed_at(found.apparatus, since)
    supplies = supplies_of(found.supplies, claimed)
    whole = World(
        now=0,
        horizon=horizon,
        studios=found.studios,
        apparatus=found.apparatus,
        taken={key: tuple(each.claim for each in every) for key, every in claimed.items()},
        supplies=supplies,
        travel=found.travel,
        stores=stores_of(found.supplies, horizon[0], {key: one.draws for key, one in supplies.items()}),
        pots=pots_of(found.apparatus.values(), horizon[0], _glass(claimed)),
    )
    whose = {row.pk: row.studio_id for row in found.supplies}
    return {
        key: Kept(
            part=whole.part_of(key, {supply for supply, studio in whose.items() if studio == key}),
            equipment={k: row for k, row in found.equipment.items() if row.studio_id == key},
            since=since,
            counts={},
        )
        for key in ids
    }


def _glass(claimed: Mapping[int, Sequence[Claimed]]) -> dict[int, list[Use]]:
    """What is drawn from the pot of each furnace."""
    found: dict[int, list[Use]] = defaultdict(list)
    for key, every in claimed.items():
        found[key].extend(each.glass for each in every if each.glass is not None)
    return found


def _reread(kept: Kept, equipment: Sequence[int]) -> None:
    """Read what is taken of some equipment again; what stands as it stood is left alone."""
    if not equipment:
        return
    claimed = claimed_at({key: kept.part.apparatus[key] for key in equipment}, kept.since)
    for key in equipment:
        now = {_name(each.claim): each for each in claimed.get(key, [])}
        for claim in list(kept.part.claims(key)):
            if _same(kept.part, claim, now.get(_name(claim))):
                del now[_name(claim)]
            else:
                kept.part.strike(claim)
        for each in now.values():
            kept.part.enter(each.claim, each.draws, each.glass)


def _name(claim: Taken) -> object:
    return claim.occupancy_id if claim.occupancy_id is not None else (claim.span, claim.held_by)


def _same(part: World, claim: Taken, now: Claimed | None) -> bool:
    """Whether a claim stands as it stood, and draws what it drew."""
    if now is None or now.claim != claim:
        return False
    return claim.occupancy_id is None or set(part.drawn_by(claim.occupancy_id)) == set(now.draws)
