"""Write the whole book into one file, while it serves."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from scheduling.management.base import HouseCommand
from scheduling.management.wording import plain_errors
from scheduling.services.backups.writing import back_up


class Command(HouseCommand):
    help = "Write all that is entered and booked into one file, as it stands at one moment, while it serves."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a file that does not exist yet, such as 2027-02-09.zip")

    def handle(self, *, file: Path, **_options: Any) -> None:
        with plain_errors():
            contents = back_up(file)
        self.stdout.write(f"{contents.rows} rows of {len(contents.tables)} tables in {file}.")
