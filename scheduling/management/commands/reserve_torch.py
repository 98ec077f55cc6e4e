"""Reserve a torch: in a class, or in open bench time."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.errors import SafetyUnread
from scheduling.management.base import HouseCommand
from scheduling.management.lookups import instant, person_with, studio_named, torch_numbered
from scheduling.management.wording import place_taken, plain_errors
from scheduling.models import Seat, Session
from scheduling.services.bench import LONGEST_MIN, SHORTEST_MIN
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Person


class Command(HouseCommand):
    help = (
        "Reserve a seat in a class (--session), or a numbered torch in open bench time "
        "(--studio, --torch, --at and --minutes)."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--person", required=True, metavar="E-MAIL", help="who will sit there")
        parser.add_argument("--session", metavar="UID", help="the class; book_class prints its UID")
        parser.add_argument("--studio", metavar="SLUG")
        parser.add_argument(
            "--torch", type=int, metavar="NUMBER", help="in a class: any free one when left out"
        )
        parser.add_argument("--at", metavar="TIME", help="by the studio's clock, such as 2027-03-13T14:00")
        parser.add_argument("--minutes", type=int, default=60, help="length of bench time (%(default)s)")
        parser.add_argument(
            "--acknowledged", type=int, metavar="VERSION", help="the version of the safety text that is read"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        person = person_with(options["person"])
        with plain_errors(), _text_shown():
            seat = _in_class(person, options) if options["session"] else _in_bench_time(person, options)
        self.stdout.write(f"Reserved: {place_taken(seat)}")


@contextmanager
def _text_shown() -> Iterator[None]:
    """A safety text that is still to be read is shown, with how to say that it is."""
    try:
        yield
    except SafetyUnread as unread:
        text: Any = unread.facts["safety_text"]
        said = f"{unread}\n\n{text['body']}\n\nRead it, then add --acknowledged {text['version']}."
        raise CommandError(said) from unread


def _in_class(person: Person, options: dict[str, Any]) -> Seat:
    session = _session(options["session"])
    torch = torch_numbered(session.studio, options["torch"]) if options["torch"] is not None else None
    return reserve_class_seat(
        actor=person, session=session, torch=torch, acknowledged=options["acknowledged"]
    )


def _in_bench_time(person: Person, options: dict[str, Any]) -> Seat:
    missing = [f"--{name}" for name in ("studio", "torch", "at") if options[name] is None]
    if missing:
        raise CommandError(f"Name a class with --session, or add {' and '.join(missing)} for bench time.")
    if not SHORTEST_MIN <= options["minutes"] <= LONGEST_MIN:
        raise CommandError(f"--minutes is how long the torch is used: from {SHORTEST_MIN} to {LONGEST_MIN}.")
    studio = studio_named(options["studio"])
    starts_at = instant(options["at"], studio.zone)
    return reserve_bench_torch(
        actor=person,
        torch=torch_numbered(studio, options["torch"]),
        starts_at=starts_at,
        ends_at=starts_at + dt.timedelta(minutes=options["minutes"]),
        acknowledged=options["acknowledged"],
    )


def _session(uid: str) -> Session:
    try:
        return Session.objects.get(uid=uuid.UUID(uid))
    except ValueError as error:
        raise CommandError(f"{uid!r} is no UID of a class; book_class prints it.") from error
    except Session.DoesNotExist as error:
        raise CommandError(f"There is no class with the UID {uid}.") from error
