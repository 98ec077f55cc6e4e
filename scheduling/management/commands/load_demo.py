"""Load the demo scenario."""

from __future__ import annotations

import datetime as dt
from time import monotonic
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from scheduling.management.base import HouseCommand
from scheduling.management.demo import loading
from scheduling.management.lookups import day_typed
from scheduling.management.wording import plain_errors
from studios.models import Equipment, Studio


class Command(HouseCommand):
    help = "Load two invented studios with a booked term; a second run changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--today", metavar="DAY", help="the day that the term lies ahead of")
        parser.add_argument("--beside", action="store_true", help="even where there are other studios")
        parser.add_argument("--yes", action="store_true", help="even on a database server")

    def handle(self, *_args: Any, **options: Any) -> None:
        with plain_errors():
            today = _day(options["today"])
        if loading.stands():
            self.stdout.write("The demo is loaded already; nothing was changed.")
            return
        _refuse_unless(beside=options["beside"], yes=options["yes"])
        began = monotonic()
        with plain_errors():
            loaded = loading.load(today)
        for line in _report(loaded, monotonic() - began):
            self.stdout.write(line)


def _day(typed: str | None) -> dt.date:
    if typed is None:
        return timezone.now().astimezone(loading.zone()).date()
    return day_typed(typed)


def _refuse_unless(*, beside: bool, yes: bool) -> None:
    if connection.vendor != "sqlite" and not yes:
        raise CommandError(
            "This is a database server, and the demo's sign-ins have a password that anybody can read. "
            "Load it with --yes where that harms nobody."
        )
    if Studio.objects.exists() and not beside:
        raise CommandError("This database has studios of its own. Load the demo beside them with --beside.")


def _report(loaded: loading.Loaded, seconds: float) -> list[str]:
    studios = Studio.objects.filter(slug__in=loading.slugs())
    pieces = Equipment.objects.filter(studio__in=studios).count()
    booked = loaded.booked
    return [
        f"Loaded the demo in {seconds:.0f} s.",
        f"  {', '.join(map(str, studios))} in Tarn Hollow: {pieces} pieces of equipment.",
        f"  Term: {loaded.first_day} to {loaded.last_day}; the clocks change on {loaded.change_day}.",
        f"  Booked: {booked.sessions} classes, {booked.seats} seats, {booked.bench} torches in bench time.",
        *(f"  Not booked: {sentence}" for sentence in booked.refused),
    ]
