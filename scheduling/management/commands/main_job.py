"""Do the main job on the demo, and print it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError, CommandParser

from scheduling.management.base import HouseCommand
from scheduling.management.demo import loading
from scheduling.management.demo.main_job import do_main_job
from scheduling.management.lookups import served_at
from scheduling.management.wording import SERVED_AT, plain_errors


class Command(HouseCommand):
    help = "On the demo: book two classes, contend for an annealer, reserve torches, export the week."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--address", default=SERVED_AT, help="where the pages are served (%(default)s)")

    def handle(self, *_args: Any, **options: Any) -> None:
        address = served_at(options["address"])
        if not loading.stands():
            raise CommandError("The demo is not loaded: run load_demo first.")
        with plain_errors(), _no_letters():
            do_main_job(self.stdout.write, address)


@contextmanager
def _no_letters() -> Iterator[None]:
    """The people of the demo have no mailboxes, and letters between the lines would hide the job."""
    usual = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    try:
        yield
    finally:
        settings.EMAIL_BACKEND = usual
