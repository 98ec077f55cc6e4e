"""How the terminal says what is planned for a kiln job, and what is booked for it."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned
from scheduling.management.wording import day_time
from scheduling.models import KilnJob, Load
from studios.models import Equipment, Studio


def planned_lines(plan: WorkPlanned) -> Iterator[str]:
    """A plan of which nothing is held: its loads and handwork in order of time, shelves and cost."""
    loads = sorted(plan.loads, key=lambda load: (load.begins, load.key))
    studio = Studio.objects.get(pk=loads[0].studio_id)
    kilns = Equipment.objects.in_bulk({load.kiln_id for load in loads})
    for load in loads:
        yield from _planned(load, kilns[load.kiln_id], studio.zone)
    for work in sorted(plan.handwork, key=lambda one: (one.span, one.load)):
        yield _by_hand(work, studio.zone)
    yield f"Shelves laid: {plan.shelves}; by {plan.bound_by} it takes {plan.shelves_bound} at least."
    yield f"Energy, wash and hours of the kilns: {plan.cost:.2f} {studio.currency}".rstrip()
    ready = day_time(plan.ready, studio.zone)
    proven = "no plan is ready earlier" if plan.proven else "the best that was found"
    yield f"All can be handed back from {ready} ({proven})."


def _planned(load: LoadPlanned, kiln: Equipment, zone: ZoneInfo) -> Iterator[str]:
    fill = " and ".join(f"{share:.0%}" for share in load.fill)
    what = f"{load.recipe.value.replace('-', ' ')} in the {kiln.name}"
    yield f"{what}: {len(load.stands)} pieces, {_on(len(load.fill))} {fill} full"
    moments = (load.begins, load.closed, load.cool, load.unload)
    yield "  loaded {}, door closed {}; cool {}, unloaded {}".format(
        *(day_time(one, zone) for one in moments)
    )


def _by_hand(work: HandworkPlanned, zone: ZoneInfo) -> str:
    return f"By hand: {work.does.value.replace('-', ' ')}, {day_time(work.span[0], zone)}"


def _on(shelves: int) -> str:
    return "one shelf" if shelves == 1 else f"{shelves} shelves"


def booked_lines(job: KilnJob) -> Iterator[str]:
    """What is booked: its firings in order of time, what is done by hand, and from when all can be had."""
    for load in job.loads.select_related("firing__equipment__studio").order_by("in_from", "pk"):
        yield from _booked(load)
    for step in job.steps.select_related("studio").order_by("starts_at", "pk"):
        yield f"By hand: {step.get_does_display()}, {day_time(step.starts_at, step.studio.zone)}"
    studio = job.studios.order_by("pk").first()
    if studio is not None and job.ready_at is not None:
        yield f"All can be handed back from {day_time(job.ready_at, studio.zone)}."


def _booked(load: Load) -> Iterator[str]:
    firing, kiln = load.firing, load.firing.equipment
    shelves = len(set(load.stands.values_list("level", flat=True)))
    what = f"{firing.get_recipe_display()} in the {kiln.name}"
    yield f"{what}: {load.pieces} pieces on {_on(shelves)}"
    moments = (firing.occupancy.starts_at, firing.last_in_at, firing.cool_at, firing.unload_at)
    yield "  loaded {}, door closed {}; cool {}, unloaded {}".format(
        *(day_time(one, kiln.studio.zone) for one in moments)
    )
