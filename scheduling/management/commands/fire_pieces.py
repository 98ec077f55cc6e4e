"""Ask the kilns of one studio or several for a job, see the plan, and book it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.engine.kiln_work.answers import from_json
from scheduling.engine.kiln_work.routes import RouteName
from scheduling.management.base import HouseCommand
from scheduling.management.kiln_jobs import planned_lines
from scheduling.management.lookups import glass_row, instant, mould_named, person_with, studio_named
from scheduling.management.wording import plain_errors
from scheduling.models import KilnAim, KilnJob
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked, ask_for
from studios.models import Mould, Studio

SIZE = re.compile(r"(?P<count>[0-9]{1,3})x(?P<length>[0-9]{1,4})(x(?P<width>[0-9]{1,4}))?(=(?P<mould>.+))?")


class Command(HouseCommand):
    help = "Plan the firings of pieces by their sizes, glass and route; --book books what was found."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--title", required=True)
        parser.add_argument("--owner", required=True, metavar="E-MAIL", help="who sends the pieces")
        parser.add_argument(
            "--studio",
            required=True,
            action="append",
            metavar="SLUG",
            help="where it may be fired; once for each studio",
        )
        parser.add_argument("--glass", required=True, metavar="SLUG")
        parser.add_argument("--thickness", required=True, type=float, metavar="MM")
        parser.add_argument("--route", required=True, choices=[name.value for name in RouteName])
        parser.add_argument(
            "--size",
            required=True,
            action="append",
            metavar="SIZE",
            help="count x length x width in mm, or count x diameter; =MOULD names the mould that each sinks "
            "into: 16x100x100='Small square dish', 12x120. Once for each size.",
        )
        parser.add_argument("--cold-work", type=int, default=0, metavar="MIN", help="for each piece")
        parser.add_argument(
            "--arrives",
            required=True,
            metavar="TIME",
            help="by the first studio's clock, such as 2027-03-09T18:00",
        )
        parser.add_argument("--due", metavar="TIME", help="by then all must be ready")
        parser.add_argument("--aim", choices=KilnAim.values, default=KilnAim.EARLIEST.value)
        parser.add_argument("--book", action="store_true", help="book the plan at once")

    def handle(self, *_args: Any, **options: Any) -> None:
        with plain_errors():
            job = _asked(options)
            answer = seek(actor=job.owner, job=job)
            if answer.plan is None:
                sentence = (answer.refusal or {}).get("sentence", "")
                raise CommandError(f"No plan; nothing is booked. {sentence}")
            lines = list(planned_lines(from_json(answer.plan)))
            lines.append(_booked(book(actor=job.owner, answer=answer)) if options["book"] else _kept(job))
        self.stdout.write("\n".join(lines))


def _booked(job: KilnJob) -> str:
    return f"Booked: {job.title} ({job.uid})"


def _kept(job: KilnJob) -> str:
    return f"Nothing is held. {job.title} ({job.uid}) is kept as asked; --book books what is found."


def _asked(options: dict[str, Any]) -> KilnJob:
    studios = [studio_named(slug) for slug in options["studio"]]
    zone = studios[0].zone
    return ask_for(
        actor=person_with(options["owner"]),
        title=options["title"],
        sizes=[size_typed(text, studios) for text in options["size"]],
        glass=glass_row(options["glass"]),
        thickness_mm=options["thickness"],
        route=options["route"],
        cold_min_each=options["cold_work"],
        arrives_at=instant(options["arrives"], zone),
        due_at=instant(options["due"], zone) if options["due"] else None,
        studios=studios,
        aim=options["aim"],
    )


def size_typed(text: str, studios: Sequence[Studio]) -> SizeAsked:
    """A size as typed; without a width it is round. Raises CommandError."""
    found = SIZE.fullmatch(text.strip())
    if found is None:
        raise CommandError(f"{text!r} is no size; write it like 16x100x100, or 12x120 for round pieces.")
    length = int(found["length"])
    return SizeAsked(
        count=int(found["count"]),
        length_mm=length,
        width_mm=int(found["width"] or length),
        round=found["width"] is None,
        mould=_mould(studios, found["mould"]) if found["mould"] else None,
    )


def _mould(studios: Sequence[Studio], name: str) -> Mould:
    """Of the first studio that has one of this name. Raises CommandError."""
    here = Mould.objects.filter(studio__in=studios, name__iexact=name).values_list("studio", flat=True)
    return mould_named(next((each for each in studios if each.pk in here), studios[0]), name)
