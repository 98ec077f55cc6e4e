"""Travel: how long somebody needs from one studio of the network to another."""

from __future__ import annotations

from scheduling.errors import InvalidInput
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import one_write
from studios.models import Person, Studio, Travel
from studios.said import said


@one_write
def keep_way(*, actor: Person, studio: Studio, other: Studio, minutes: int, back: int) -> None:
    """The way there and the way back, from now on; classes already booked stand.

    Either studio's manager says it, as it is the same road. Raises NotAllowed or InvalidInput.
    """
    begin(actor, "set-up", studio)
    if other == studio:
        raise InvalidInput(field="other", problem=said("Choose another studio."))
    _way(studio, other, minutes)
    _way(other, studio, back)
    note(actor, studio, f"{studio.name} to {other.name}: {minutes} min, back {back} min")


def _way(origin: Studio, destination: Studio, minutes: int) -> None:
    row = Travel.objects.filter(origin=origin, destination=destination).first()
    row = row or Travel(origin=origin, destination=destination)
    row.minutes = minutes
    checked(row).save()
