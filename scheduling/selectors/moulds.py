"""Moulds in use: which firings have how many of them in them, and from when until when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.kiln_work.routes import ROUTES
from scheduling.engine.spans import Span, levels
from scheduling.models import BookingStatus, Stand
from studios.models import Mould

# What lies in moulds while it is fired.
IN_MOULDS = {step.recipe.value for route in ROUTES.values() for step in route.firings if step.in_moulds}


def moulds_in_use(
    moulds: Iterable[int], within: Span, *, without: Collection[int] = ()
) -> dict[int, list[tuple[Span, int]]]:
    """For each form the firings that have some of its moulds in them, from loading to unloading.

    Pieces that stand in one place lie in one mould. Loads in `without`, by their keys, are as if taken out.
    """
    rows = Stand.objects.filter(
        piece__size__mould__in=set(moulds),
        load__firing__recipe__in=IN_MOULDS,
        load__firing__status=BookingStatus.BOOKED,
        load__firing__occupancy__ends_at__gt=moment(within[0]),
        load__firing__occupancy__starts_at__lt=moment(within[1]),
    ).exclude(load__in=without)
    occupancy = "load__firing__occupancy__"
    columns = ("piece__size__mould", f"{occupancy}starts_at", f"{occupancy}ends_at", "load__firing")
    places: dict[int, set[tuple[Span, int, object]]] = defaultdict(set)
    for mould, begins, ends, firing, *place in rows.values_list(*columns, "level", "x_mm", "y_mm"):
        places[mould].add(((floor_minutes(begins), ceil_minutes(ends)), firing, tuple(place)))
    found: dict[int, list[tuple[Span, int]]] = {}
    for mould, every in places.items():
        each: dict[tuple[Span, int], int] = defaultdict(int)
        for span, firing, _ in every:
            each[span, firing] += 1
        found[mould] = [(span, count) for (span, _), count in sorted(each.items())]
    return found


def too_many_at_once(within: Span, moulds: Iterable[int]) -> tuple[Mould, Span] | None:
    """The first form of which more moulds would have to be in kilns at once than there are, and when."""
    for key, used in sorted(moulds_in_use(moulds, within).items()):
        mould = Mould.objects.get(pk=key)
        for span, total in levels((span, float(count)) for span, count in used):
            if total > mould.count:
                return mould, span
    return None
