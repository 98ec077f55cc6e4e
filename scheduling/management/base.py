"""What all commands of the house share: none of them begins on a database that is not there."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from scheduling.models import Face
from scheduling.services.audit import acting


class HouseCommand(BaseCommand):
    """A command that reads or writes the book; without its tables it says so in one line."""

    requires_migrations_checks = True

    def execute(self, *args: Any, **options: Any) -> str | None:
        """The audit says that it was a command."""
        with acting(Face.COMMAND):
            return super().execute(*args, **options)

    def check_migrations(self) -> None:
        """Where Django would warn and go on into a traceback, stop. Raises CommandError."""
        try:
            executor = MigrationExecutor(connection)
            missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
        except DatabaseError as error:
            cause = " ".join(str(error).split())
            raise CommandError(f"The database cannot be reached: {cause}") from error
        if missing:
            raise CommandError("The database is not set up: run manage.py migrate (make run does it).")
