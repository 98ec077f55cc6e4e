"""Kiln jobs in the test town, and plans for them that are laid by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.utils import timezone

from scheduling.engine.clock import floor_minutes
from scheduling.engine.kiln_work.answers import (
    HandworkPlanned,
    LoadPlanned,
    StandPlanned,
    WorkPlanned,
    as_json,
)
from scheduling.engine.kiln_work.bare import bare_firing, flat_piece
from scheduling.engine.kiln_work.routes import ROUTES, Handwork, RouteName
from scheduling.engine.records import Placement
from scheduling.engine.search import place
from scheduling.models import KilnAnswer, KilnJob
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked, ask_for
from scheduling.snapshot import glass_of, horizon_around, load_world
from studios.models import Equipment, Person, Qualification
from tests.worlds import KILN, Town, add_equipment, local

DISHES = (
    SizeAsked(count=4, length_mm=150, width_mm=150),
    SizeAsked(count=2, length_mm=120, width_mm=120, round=True),
)
CM2_EACH = 280


def with_shelves(town: Town) -> Equipment:
    """The kiln of the flame studio gets shelves: two, of 600 by 500 mm."""
    kiln = town.equipment["kiln"]
    kiln.shelf_length_mm, kiln.shelf_width_mm, kiln.shelf_levels = 600, 500, 2
    kiln.save()
    return kiln


def second_kiln(town: Town) -> Equipment:
    """Another kiln like it, on the same feeder."""
    facts = {"prepare_min": 45, "clear_min": 30, "capacity_cm2": 3000, "body": KILN}
    shelves = {"shelf_length_mm": 600, "shelf_width_mm": 500, "shelf_levels": 2}
    return add_equipment(town, town.flame, "kiln", "kiln 2", draws={"kiln feeder": 5}, **facts, **shelves)


def far_kiln(town: Town) -> Equipment:
    """A kiln like the first in the hot shop; the instructor is signed off for it."""
    facts = {"prepare_min": 45, "clear_min": 30, "capacity_cm2": 3000, "body": KILN}
    shelves = {"shelf_length_mm": 600, "shelf_width_mm": 500, "shelf_levels": 2}
    Qualification.objects.get_or_create(person=town.instructor, studio=town.hot_shop, kind="kiln")
    return add_equipment(town, town.hot_shop, "kiln", "far kiln", **facts, **shelves)


def split_plan(job: KilnJob, kiln: Equipment, far: Equipment) -> WorkPlanned:
    """Four dishes from Tuesday at one studio, two from Wednesday at the other."""
    here, there = (
        load_at(job, kiln, local(1, 18), pieces=range(4)),
        load_at(job, far, local(2, 18), pieces=(4, 5)),
    )
    return planned(here, there)


def a_job(town: Town, actor: Person | None = None, **facts: Any) -> KilnJob:
    """Six dishes of an instructor, to be fused at the flame studio; they come on Tuesday at nine."""
    asked: dict[str, Any] = {
        "title": "Fair dishes",
        "sizes": DISHES,
        "glass": town.glasses["fusing-90"],
        "thickness_mm": 6.0,
        "route": "fuse",
        "arrives_at": local(1, 9),
        "studios": [town.flame],
        **facts,
    }
    return ask_for(actor=actor or town.instructor, **asked)


def load_at(
    job: KilnJob, kiln: Equipment, at: dt.datetime, *, step: int = 1, pieces: Sequence[int] | None = None
) -> LoadPlanned:
    """A load whose loading begins then, its pieces in a row on the lowest shelf."""
    which = range(job.pieces.count()) if pieces is None else pieces
    recipe = ROUTES[RouteName(job.route)].firings[step - 1].recipe
    ask = bare_firing(
        title=job.title,
        studio_id=kiln.studio_id,
        kiln_id=kiln.pk,
        recipe=recipe,
        piece=flat_piece(glass_of(job.glass), job.thickness_mm),
        footprint_cm2=CM2_EACH * len(which),
    )
    placed = place(load_world([kiln.studio], horizon_around(at)), ask, floor_minutes(at))
    assert isinstance(placed, Placement), placed
    (held,) = placed.firings
    return LoadPlanned(
        key=f"{step}:{kiln.name}:{at}",
        step=step,
        recipe=recipe,
        kiln_id=kiln.pk,
        studio_id=kiln.studio_id,
        begins=held.held.span[0],
        closed=held.at_hold,
        cool=held.cool,
        unload=held.unload,
        done=held.held.span[1],
        stands=tuple(_stand(nth, piece) for nth, piece in enumerate(which)),
        fill=(0.5,),
        footprint_cm2=CM2_EACH * len(which),
        energy_kwh=held.energy_kwh,
        cost=0.0,
    )


def _stand(nth: int, piece: int) -> StandPlanned:
    """Two levels of two by two, 170 mm apart."""
    level, at = divmod(nth, 4)
    return StandPlanned(
        piece=piece,
        level=level + 1,
        x_mm=10 + 170 * (at % 2),
        y_mm=10 + 170 * (at // 2),
        length_mm=150,
        width_mm=150,
        round=False,
    )


def by_hand(
    load: LoadPlanned,
    does: Handwork,
    at: dt.datetime,
    minutes: int,
    station: Equipment | None = None,
    *,
    of: Sequence[int] = (),
) -> HandworkPlanned:
    """Handwork for a load, at a cold station where one is named; `of` are the pieces that are worked."""
    begin = floor_minutes(at)
    return HandworkPlanned(
        does=does,
        studio_id=load.studio_id,
        station_id=None if station is None else station.pk,
        span=(begin, begin + minutes),
        load=load.key,
        pieces=len(of or load.stands),
        of=tuple(of),
    )


def planned(*loads: LoadPlanned, handwork: Sequence[HandworkPlanned] = ()) -> WorkPlanned:
    """Loads and handwork as one plan."""
    ready = max([*(load.done for load in loads), *(work.span[1] for work in handwork)])
    return WorkPlanned(
        loads=loads,
        handwork=tuple(handwork),
        ready=ready,
        bound=ready,
        proven=True,
        shelves=len(loads),
        shelves_bound=1,
        bound_by="area",
        visits=(),
        cost=0.0,
        cost_of=(),
    )


def answered(job: KilnJob, plan: WorkPlanned, asker: Person | None = None, **facts: Any) -> KilnAnswer:
    """An answer with this plan, found just now."""
    return KilnAnswer.objects.create(
        job=job, asked_by=asker or job.owner, plan=as_json(plan), ended_at=timezone.now(), **facts
    )


def booked(
    job: KilnJob, *loads: LoadPlanned, actor: Person, handwork: Sequence[HandworkPlanned] = ()
) -> KilnJob:
    """The job with this plan booked."""
    return book(actor=actor, answer=answered(job, planned(*loads, handwork=handwork)))
