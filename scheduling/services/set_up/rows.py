"""The lines of a set-up that promise nothing to anybody: hours, closed days, terms, seasons, programs.

A booking was worked out from them when it was made, and keeps its hours when they change.
"""

from __future__ import annotations

from collections.abc import Sequence

from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import one_write
from studios.models import BenchHours, Closure, OwnProcess, Person, Season, StaffedHours, Term

Line = StaffedHours | BenchHours | Closure | Season | OwnProcess | Term


@one_write
def keep_lines(*, actor: Person, lines: Sequence[Line]) -> None:
    """Lines are written as they are given, new or changed; all of them or none.

    Raises NotAllowed or InvalidInput.
    """
    for line in lines:
        begin(actor, "set-up", line.studio)
        checked(line).save()
        note(actor, line.studio, f"{_called(line)}: {line}")


@one_write
def drop_line(*, actor: Person, line: Line) -> None:
    """A line holds no longer. Raises NotAllowed."""
    begin(actor, "set-up", line.studio)
    note(actor, line.studio, f"{_called(line)} no longer: {line}")
    type(line).objects.filter(pk=line.pk).delete()


def _called(line: Line) -> str:
    return f"{line.studio.name}, {type(line)._meta.verbose_name}"  # noqa: SLF001 - documented by Django
