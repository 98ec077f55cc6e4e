"""How the terminal says what is planned for a kiln job, and what is booked for it; of several studios each by
its clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned
from scheduling.management.wording import day_time
from scheduling.models import KilnJob, Load
from scheduling.selectors.kiln_ready import HandedBack, handed_back, handed_back_by
from studios.models import Equipment, Studio


def planned_lines(plan: WorkPlanned) -> Iterator[str]:
    """A plan of which nothing is held: its loads and handwork in order of time, shelves and cost."""
    ready = handed_back_by(plan)
    studios, split = {each.studio.pk: each.studio for each in ready}, len(ready) > 1
    loads = sorted(plan.loads, key=lambda load: (load.begins, load.key))
    kilns = Equipment.objects.in_bulk({load.kiln_id for load in loads})
    for load in loads:
        yield from _planned(load, kilns[load.kiln_id], studios[load.studio_id], split=split)
    for work in sorted(plan.handwork, key=lambda one: (one.span, one.load)):
        yield _by_hand(work, studios[work.studio_id], split=split)
    yield f"Shelves laid: {plan.shelves}; by {plan.bound_by} it takes {plan.shelves_bound} at least."
    yield f"Energy, wash and hours of the kilns: {_costs(loads, studios)}"
    proven = "no plan is ready earlier" if plan.proven else "the best that was found"
    yield from _ready(ready, f" ({proven})")


def _costs(loads: Sequence[LoadPlanned], studios: Mapping[int, Studio]) -> str:
    """In each currency by itself."""
    priced = sorted((studios[load.studio_id].currency, load.cost) for load in loads)
    sums = [
        (currency, sum(cost for _, cost in every)) for currency, every in groupby(priced, lambda one: one[0])
    ]
    return " + ".join(f"{cost:.2f} {currency}".rstrip() for currency, cost in sums) or "none"


def _ready(ready: Sequence[HandedBack], how: str = "") -> Iterator[str]:
    if len(ready) > 1:
        for each in ready:
            at = day_time(each.at, each.studio.zone)
            yield f"{each.studio} fires {each.pieces} of the pieces; they can be handed back there from {at}."
    for last in ready[-1:]:
        yield f"All can be handed back from {day_time(last.at, last.studio.zone)}{how}."


def _planned(load: LoadPlanned, kiln: Equipment, studio: Studio, *, split: bool) -> Iterator[str]:
    fill = " and ".join(f"{share:.0%}" for share in load.fill)
    what = f"{load.recipe.value.replace('-', ' ')} in the {kiln.name}{_at(studio, split=split)}"
    yield f"{what}: {len(load.stands)} pieces, {_on(len(load.fill))} {fill} full"
    moments = (load.begins, load.closed, load.cool, load.unload)
    yield "  loaded {}, door closed {}; cool {}, unloaded {}".format(
        *(day_time(one, studio.zone) for one in moments)
    )


def _by_hand(work: HandworkPlanned, studio: Studio, *, split: bool) -> str:
    at = day_time(work.span[0], studio.zone)
    return f"By hand: {work.does.value.replace('-', ' ')}{_at(studio, split=split)}, {at}"


def _at(studio: Studio, *, split: bool) -> str:
    return f" at {studio}" if split else ""


def _on(shelves: int) -> str:
    return "one shelf" if shelves == 1 else f"{shelves} shelves"


def booked_lines(job: KilnJob) -> Iterator[str]:
    """What is booked: its firings in order of time, what is done by hand, and from when all can be had."""
    ready = handed_back(job)
    split = len(ready) > 1
    for load in job.loads.select_related("firing__equipment__studio").order_by("in_from", "pk"):
        yield from _booked(load, split=split)
    for step in job.steps.select_related("studio").order_by("starts_at", "pk"):
        at = day_time(step.starts_at, step.studio.zone)
        yield f"By hand: {step.get_does_display()}{_at(step.studio, split=split)}, {at}"
    yield from _ready(ready)


def _booked(load: Load, *, split: bool) -> Iterator[str]:
    firing, kiln = load.firing, load.firing.equipment
    shelves = len(set(load.stands.values_list("level", flat=True)))
    what = f"{firing.get_recipe_display()} in the {kiln.name}{_at(kiln.studio, split=split)}"
    yield f"{what}: {load.pieces} pieces on {_on(shelves)}"
    moments = (firing.occupancy.starts_at, firing.last_in_at, firing.cool_at, firing.unload_at)
    yield "  loaded {}, door closed {}; cool {}, unloaded {}".format(
        *(day_time(one, kiln.studio.zone) for one in moments)
    )
