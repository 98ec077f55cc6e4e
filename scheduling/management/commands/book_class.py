"""Book a class, or see what it would hold."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.management.base import HouseCommand
from scheduling.management.holdings import held_by, would_be_held
from scheduling.management.lookups import course_named, instant, person_with, studio_named
from scheduling.management.wording import day_time, meeting, plain_errors
from scheduling.selectors.options import Refused, examine
from scheduling.services.booking import book_session
from studios.models import Studio


class Command(HouseCommand):
    help = "Book a class with every piece of equipment that it holds; --dry-run shows it and books nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--course", required=True, metavar="SLUG")
        parser.add_argument("--studio", required=True, metavar="SLUG")
        parser.add_argument("--instructor", required=True, metavar="E-MAIL")
        parser.add_argument(
            "--at", required=True, metavar="TIME", help="by the studio's clock, such as 2027-03-09T18:00"
        )
        parser.add_argument("--by", metavar="E-MAIL", help="who books; the instructor when left out")
        parser.add_argument(
            "--dry-run", action="store_true", help="say what would be held, or why not; book nothing"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        studio = studio_named(options["studio"])
        instructor = person_with(options["instructor"])
        with plain_errors():
            asked: dict[str, Any] = {
                "course": course_named(options["course"]),
                "studio": studio,
                "instructor": instructor,
                "starts_at": instant(options["at"], studio.zone),
            }
            lines = _would_hold(asked) if options["dry_run"] else _book(asked, options["by"])
        self.stdout.write("\n".join(lines))


def _book(asked: dict[str, Any], by: str | None) -> list[str]:
    actor = person_with(by) if by else asked["instructor"]
    session = book_session(actor=actor, **asked)
    return [f"Booked: {meeting(session)} ({session.uid})", *held_by(session, actor)]


def _would_hold(asked: dict[str, Any]) -> list[str]:
    found = examine(**asked)
    if isinstance(found, Refused):
        raise CommandError(_why_not(found, asked["studio"]))
    return ["This would be held; nothing was booked.", *found.notes, *would_be_held(found)]


def _why_not(refused: Refused, studio: Studio) -> str:
    reasons = " ".join(reason.sentence for reason in refused.reasons)
    if refused.nearest is None:
        return reasons
    return f"{reasons} The next start that works: {day_time(refused.nearest.starts_at, studio.zone)}."
