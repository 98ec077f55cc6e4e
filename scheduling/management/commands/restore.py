"""Put a backup in place, while it serves."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from scheduling.management.base import HouseCommand
from scheduling.management.wording import plain_errors
from scheduling.services.backups.restoring import restore


class Command(HouseCommand):
    help = "Put a backup in place: all of it or, if it does not fit, nothing. Everybody is signed out."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="what manage.py backup has written")
        parser.add_argument("--replace", action="store_true", help="even where all that stands goes for it")

    def handle(self, *, file: Path, replace: bool, **_options: Any) -> None:
        with plain_errors():
            contents = restore(file, replace=replace)
        self.stdout.write(
            f"Restored {contents.rows} rows of {len(contents.tables)} tables, "
            f"as they stood at {contents.made_at:%Y-%m-%d %H:%M:%S %Z}."
        )
