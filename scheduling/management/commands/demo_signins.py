"""Print how to sign in to the demo."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.management.base import HouseCommand
from scheduling.management.demo import people
from scheduling.management.demo.job import week_sheet
from scheduling.management.lookups import served_at
from scheduling.management.wording import SERVED_AT, page, table


class Command(HouseCommand):
    help = "Print the demo's sign-ins: role, name, e-mail address and password, and the page to use them on."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--address", default=SERVED_AT, help="where the pages are served (%(default)s)")

    def handle(self, *_args: Any, **options: Any) -> None:
        address = served_at(options["address"])
        found = people.sign_ins()
        if not found:
            raise CommandError("The demo is not loaded: run load_demo first.")
        secret = people.password()
        rows = [("role", "name", "e-mail", "password")]
        rows += [(one.roles, one.name, one.email, secret) for one in found]
        self.stdout.write("\n".join(table(rows)))
        self.stdout.write(f"Sign in at {page(address, 'sign-in')}")
        self.stdout.write(f"The week of the main job: {week_sheet(address)}")
