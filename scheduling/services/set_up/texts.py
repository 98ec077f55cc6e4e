"""The safety text of a studio: a new version beside the old, which stays as somebody has read it."""

from __future__ import annotations

from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import one_write
from studios.models import Person, SafetyText, Studio
from studios.services import next_version


@one_write
def write_text(*, actor: Person, studio: Studio, body: str) -> SafetyText:
    """A new version, in force at once: whoever has read an earlier one is asked again.

    Raises NotAllowed or InvalidInput.
    """
    begin(actor, "set-up", studio)
    text = checked(SafetyText(studio=studio, version=next_version(studio), body=body))
    text.save()
    note(actor, studio, f"{studio.name}: safety text, version {text.version}")
    return text
