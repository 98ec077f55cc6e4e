"""The lines of a set-up that promise nothing to anybody: hours, closed days, terms, programs, moulds.

A booking was worked out from them when it was made, and keeps its hours when they change.
"""

from __future__ import annotations

from collections.abc import Sequence

from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import one_write
from studios.models import BenchHours, Closure, Mould, OwnProcess, Person, Season, StaffedHours, Term

Line = StaffedHours | BenchHours | Closure | Season | OwnProcess | Term | Mould


@one_write
def keep_lines(*, actor: Person, lines: Sequence[Line]) -> None:
    """Lines are written as they are given, new or changed; all of them or none.

    Raises NotAllowed or InvalidInput.
    """
    for line in lines:
        begin(actor, action_for(type(line)), line.studio)
        checked(line).save()
        note(actor, line.studio, f"{_called(line)}: {line}")


@one_write
def drop_line(*, actor: Person, line: Line) -> None:
    """A line holds no longer; moulds that a kiln job was asked for with stay in the book.

    Raises NotAllowed.
    """
    begin(actor, action_for(type(line)), line.studio)
    note(actor, line.studio, f"{_called(line)} no longer: {line}")
    if isinstance(line, Mould) and line.job_sizes.exists():
        Mould.objects.filter(pk=line.pk).update(active=False)
        return
    type(line).objects.filter(pk=line.pk).delete()


def action_for(model: type[Line]) -> str:
    """Moulds are equipment to whoever sets it up."""
    return "set-up-equipment" if model is Mould else "set-up"


def _called(line: Line) -> str:
    return f"{line.studio.name}, {type(line)._meta.verbose_name}"  # noqa: SLF001 - documented by Django
