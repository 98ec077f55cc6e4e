"""The harvest fair: dishes begun elsewhere, their firings, and the first day they are handed back."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle, islice

from scheduling.management.demo.bookings import Booked, Rows
from scheduling.management.demo.files import Facts, read
from scheduling.management.demo.job import Job
from scheduling.management.demo.term import Term
from scheduling.management.wording import day_time
from scheduling.models import JobStep, KilnJob, KilnJobStatus, Load
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked, ask_for
from studios.models import GlassType, Person, Studio


def send_the_fair(term: Term, known: Rows, booked: Booked) -> None:
    """Ask for the firings of the fair's dishes, and book the plan by which they are ready earliest."""
    facts = read("fair")
    owner, asked = known.person(facts["owner"]), _asked(facts, term, known)
    answer = seek(actor=owner, job=asked)
    if answer.plan is None:
        why = (answer.refusal or {}).get("sentence", "")
        booked.refused.append(f"{asked.title}: {why}")
    else:
        book(actor=owner, answer=answer)


def _asked(facts: Facts, term: Term, known: Rows) -> KilnJob:
    studio, due = known.studio(facts["studio"]), facts["due"]
    makers = cycle(known.person(name) if name.islower() else name for name in facts["makers"])
    return ask_for(
        actor=known.person(facts["owner"]),
        title=facts["title"],
        sizes=[_size(size, studio, tuple(islice(makers, size["count"]))) for size in facts["sizes"]],
        glass=GlassType.objects.get(slug=facts["glass"]),
        thickness_mm=facts["thickness_mm"],
        route=facts["route"],
        arrives_at=term.moment(facts["week"], facts["weekday"], facts["time"], studio.zone),
        due_at=term.moment(due["week"], due["weekday"], due["time"], studio.zone),
        studios=[studio],
        shares_space=True,
        note=facts["note"],
    )


def _size(facts: Facts, studio: Studio, makers: tuple[Person | str, ...]) -> SizeAsked:
    return SizeAsked(**{**facts, "mould": studio.moulds.get(name=facts["mould"])}, makers=makers)


def tell_the_fair(job: Job) -> None:
    """The fair's firings in order of time, what is done by hand for them, and from when all can be had."""
    facts = read("fair")
    asked = KilnJob.objects.filter(title=facts["title"], status=KilnJobStatus.BOOKED).first()
    if asked is None or asked.ready_at is None:
        job.say("It is not booked any more.")
        return
    zone = job.rows.studio(facts["studio"]).zone
    job.say(f"{asked.pieces.count()} pieces reach the studio {day_time(asked.arrives_at, zone)}.")
    for load in asked.loads.select_related("firing__equipment__studio").order_by("in_from", "pk"):
        for line in _firing(load):
            job.say(line)
    for step in asked.steps.select_related("studio").order_by("starts_at", "pk"):
        job.say(_by_hand(step))
    job.say(f"All can be handed back from {day_time(asked.ready_at, zone)}.")


def _firing(load: Load) -> Iterator[str]:
    firing, kiln = load.firing, load.firing.equipment
    begins, closed, cool, unload = (
        day_time(moment, kiln.studio.zone)
        for moment in (firing.occupancy.starts_at, firing.last_in_at, firing.cool_at, firing.unload_at)
    )
    shelves = len(set(load.stands.values_list("level", flat=True)))
    on = "one shelf" if shelves == 1 else f"{shelves} shelves"
    yield f"{firing.get_recipe_display()} in the {kiln.name}: {load.pieces} pieces on {on}"
    yield f"  loaded {begins}, door closed {closed}; cool {cool}, unloaded {unload}"


def _by_hand(step: JobStep) -> str:
    return f"By hand: {step.get_does_display()}, {day_time(step.starts_at, step.studio.zone)}"
