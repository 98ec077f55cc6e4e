"""The harvest fair: dishes begun elsewhere, their firings, and the first day they are handed back."""

from __future__ import annotations

from itertools import cycle, islice

from scheduling.management.demo.bookings import Booked, Rows
from scheduling.management.demo.files import Facts, read
from scheduling.management.demo.term import Term
from scheduling.models import KilnJob
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
