"""A kiln job as the engine is asked about it: its pieces, its kilns, and the world that they are in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.kiln_work.asked import KilnShelves, MouldAsked, PieceAsked, WorkAsked
from scheduling.engine.kiln_work.routes import ROUTES, RouteName
from scheduling.engine.packing import Footprint
from scheduling.engine.spans import Span
from scheduling.engine.world import World
from scheduling.errors import InvalidInput
from scheduling.models import KilnJob, Piece
from scheduling.selectors.kiln_stages import Stage, standing_of
from scheduling.selectors.kiln_what_if import Otherwise, otherwise
from scheduling.selectors.moulds import moulds_in_use
from scheduling.selectors.pieces import pieces_to_fire
from scheduling.selectors.shelf_levels import measured, shelf_of
from scheduling.snapshot import glass_of, horizon_around, load_world
from studios.models import Equipment, EquipmentKind, Mould, Studio
from studios.said import said

# For each form of mould when others have how many of them.
Held = Mapping[int, Sequence[tuple[Span, int]]]
# So far ahead a plan is looked for, or until it is due, whichever is later.
AHEAD = dt.timedelta(weeks=6)


def asked_of(job: KilnJob, what_if: Mapping[str, Any] | None = None) -> tuple[World, WorkAsked]:
    """The world of a kiln job and what is asked there, in as many queries however many pieces it has.

    Of a job that is booked it is asked what has not begun, in a world where that is free again. `what_if`
    says what is otherwise than in the job (`kiln_what_if`). Raises InvalidInput.
    """
    wanted, standing = otherwise(job, what_if or {}), standing_of(job)
    studios, own = _studios(job, wanted), list(pieces_to_fire(job))
    keys = {row.pk for row in studios}
    stages = [standing.stage(piece, keys) for piece in own]
    studios = _with_those_of(studios, stages)
    pieces = _with_more(own, wanted.more_pieces)
    kilns = list(_kilns(studios))
    without = {row.pk for row in kilns if row.uid in wanted.without_kilns}
    world = _world(studios, wanted, without, standing.freed)
    span = (world.now, world.horizon[1])
    held = moulds_in_use(_moulds(pieces), span, without=standing.loads_given_up)
    stages += [Stage(studio_id=standing.studio_of_moulds(piece)) for piece in pieces[len(own) :]]
    asked = WorkAsked(
        title=job.title,
        pieces=tuple(_piece(each, held, stage) for each, stage in zip(pieces, stages, strict=True)),
        glass=glass_of(job.glass),
        mixed_with=tuple(glass_of(row) for row in job.mixed_with.all()),
        thickness_mm=wanted.thickness_mm,
        route=ROUTES[RouteName(job.route)],
        arrives=ceil_minutes(wanted.arrives_at),
        due=None if wanted.due_at is None else floor_minutes(wanted.due_at),
        aim=wanted.aim,
        kilns=tuple(_shelves(row) for row in kilns if row.pk not in without and measured(row)),
        cold_min_each=job.cold_min_each,
        done=tuple(done for _, done in standing.spare),
    )
    return world, asked


def _studios(job: KilnJob, wanted: Otherwise) -> list[Studio]:
    """Where it may be fired. Raises InvalidInput where a studio is not known."""
    if not wanted.studios:
        return list(job.studios.order_by("pk"))
    found = list(Studio.objects.filter(slug__in=wanted.studios).order_by("pk"))
    if unknown := sorted(set(wanted.studios) - {row.slug for row in found}):
        raise InvalidInput(
            field="studios", problem=said("No studio is called {names}.", names=", ".join(unknown))
        )
    return found


def _with_those_of(studios: Sequence[Studio], stages: Iterable[Stage]) -> list[Studio]:
    """Where something of it has been fired it is fired on, whatever studios are asked."""
    lies_at = {stage.studio_id for stage in stages if stage.free is not None and stage.studio_id is not None}
    return sorted({*studios, *Studio.objects.filter(pk__in=lies_at)}, key=lambda row: row.pk)


def _with_more(pieces: Sequence[Piece], more: int) -> list[Piece]:
    """So many more pieces of the same mix; they come after the others."""
    count = len(pieces)
    return [*pieces, *(pieces[(number * count // more) % count] for number in range(more if count else 0))]


def _kilns(studios: Iterable[Studio]) -> Iterator[Equipment]:
    rows = Equipment.objects.filter(studio__in=list(studios), kind=EquipmentKind.KILN, active=True)
    yield from rows.select_related("studio").order_by("studio", "number", "pk")


def _shelves(kiln: Equipment) -> KilnShelves:
    return KilnShelves(
        kiln_id=kiln.pk,
        shelf=shelf_of(kiln),
        levels=kiln.shelf_levels,
        kwh_price=_price(kiln.heat_price),
        hour_price=_price(kiln.hour_price),
        shelf_wash_price=_price(kiln.shelf_wash_price),
    )


def _price(set_: Decimal | None) -> float | None:
    return None if set_ is None else float(set_)


def _moulds(pieces: Iterable[Piece]) -> set[int]:
    return {each.size.mould_id for each in pieces if each.size is not None and each.size.mould_id is not None}


def _piece(row: Piece, held: Held, stage: Stage) -> PieceAsked:
    if row.size is None:
        raise ValueError("a piece of a kiln job has its size")
    size = row.size
    footprint = Footprint(length_mm=size.length_mm, width_mm=size.width_mm, round=size.round)
    return PieceAsked(
        footprint=footprint,
        mould=None if size.mould is None else _mould(size.mould, held),
        first=stage.first,
        free=stage.free,
        studio_id=stage.studio_id,
        unworked=stage.unworked,
    )


def _mould(row: Mould, held: Held) -> MouldAsked:
    footprint = Footprint(length_mm=row.length_mm, width_mm=row.width_mm, round=row.round)
    count = row.count if row.active else 0
    return MouldAsked(
        id=row.pk,
        name=row.name,
        footprint=footprint,
        holds=row.holds,
        count=count,
        held=tuple(held.get(row.pk, ())),
    )


def _world(
    studios: Sequence[Studio], wanted: Otherwise, without: Collection[int], freed: Collection[int]
) -> World:
    """All that is booked there, but for what is freed. Kilns that are not asked are as if out of service."""
    begins = max(timezone.now(), wanted.arrives_at)
    ends = max(begins + AHEAD, wanted.due_at or begins)
    world = load_world(studios, horizon_around(begins, ends), without=freed)
    apparatus = {
        key: replace(each, active=each.active and key not in without) for key, each in world.apparatus.items()
    }
    return replace(world, apparatus=apparatus, horizon=(world.horizon[0], ceil_minutes(ends)))
