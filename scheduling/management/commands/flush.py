"""Empty the whole database, the audit with it, which nothing else can."""

from __future__ import annotations

from typing import Any

from django.core.management.commands import flush
from django.db import transaction

from scheduling import guards

QUESTION = "Everything in the book goes, the audit too, and nothing brings it back. Type yes to go on: "


class Command(flush.Command):
    help = "Remove all that is entered and booked, the audit with it; the tables stay, with their guards."

    def handle(self, **options: Any) -> None:
        """Asked first, so that nobody waits for an answer while the tables are locked."""
        if options["interactive"] and input(QUESTION) != "yes":
            self.stdout.write("Nothing was removed.")
            return
        with transaction.atomic(using=options["database"]):
            guards.take_away_for_emptying()
            super().handle(**{**options, "interactive": False})
            guards.install()
