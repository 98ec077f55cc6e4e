"""The shelves of a firing, from below: whose they are, which are laid, and when a further one is washed."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.kiln_work.beside import Levels, step_of
from scheduling.engine.kiln_work.handwork import latest_before
from scheduling.engine.kiln_work.routes import Before, Handwork
from scheduling.engine.packing import Shelf
from scheduling.engine.spans import Span
from scheduling.models import Firing, Load, Stand
from scheduling.snapshot import weekly_spans
from studios.models import Equipment
from studios.thermal import Recipe


def measured(kiln: Equipment) -> bool:
    """Whether somebody has entered how large its shelves are, and the margin leaves something of them."""
    return min(kiln.shelf_length_mm or 0, kiln.shelf_width_mm or 0) > 2 * kiln.shelf_margin_mm


def shelf_of(kiln: Equipment) -> Shelf:
    """One of its shelves, if somebody has measured them."""
    return Shelf(
        length_mm=kiln.shelf_length_mm or 0,
        width_mm=kiln.shelf_width_mm or 0,
        margin_mm=kiln.shelf_margin_mm,
        spacing_mm=kiln.piece_spacing_mm,
    )


def within_cm2(kiln: Equipment) -> int:
    """What of one shelf lies within its margin."""
    length, width = shelf_of(kiln).usable_mm
    return length * width // 100


def stands_of(loads: Iterable[Load]) -> list[Stand]:
    """What stands at a known place."""
    return [stand for load in loads for stand in load.stands.all() if stand.level is not None]


def levels_of(firing: Firing, stands: Iterable[Stand]) -> Levels:
    """The shelves for what others add: above those that a class keeps, up to as many as the kiln has, where
    the program lets them stand on posts; else those that are laid."""
    kept = firing.shelves_kept or 0
    laid = max([kept, *(stand.level or 1 for stand in stands)])
    step = step_of(Recipe(firing.recipe))
    most = firing.equipment.shelf_levels if step is not None and step.stacks else laid
    return Levels(first=kept + 1, laid=laid, most=max(laid, most))


def wash_before(firing: Firing) -> Span | None:
    """When a further shelf is washed, so that it is dry as loading begins: as late as somebody is there who
    loads. None where no such hour is left."""
    begins, now = floor_minutes(firing.occupancy.starts_at), ceil_minutes(timezone.now())
    need = _wash(Recipe(firing.recipe))
    if need is None or begins <= now:
        return None
    studio = firing.equipment.studio
    hours = weekly_spans(
        studio, [each for each in studio.staffed_hours.all() if each.may_load], (now, begins)
    )
    return latest_before(need, begins, hours, since=now, visited=())


def _wash(recipe: Recipe) -> Before | None:
    step = step_of(recipe)
    needs = step.before if step is not None else ()
    return next((need for need in needs if need.does is Handwork.WASH_SHELVES), None)
