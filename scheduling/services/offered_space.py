"""Offering open shelf space: whose firing it is opens it to others, changes that, or closes it again.

A class keeps so many shelves from below (shelves_kept), and what others add stands above them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.errors import InvalidInput, NotAllowed, NotYours, Over
from scheduling.models import BookingStatus, Firing, Load
from scheduling.selectors.opening import begun, class_loads, hindrance_of, keeping_of, opens
from scheduling.selectors.shelf_levels import measured
from scheduling.services import audit
from scheduling.services.actuals import lock_firing
from scheduling.services.transactions import one_write
from scheduling.wording import when
from studios.models import Person
from studios.said import said
from studios.selectors import may


@one_write
def offer(
    *,
    actor: Person,
    firing: Firing,
    until: dt.datetime | None = None,
    shelves_kept: int | None = None,
) -> Firing:
    """Open the free room on a firing's shelves to others, until a minute; else until its loading begins.

    A class keeps so many shelves from below, else as few as it needs at a careful fill. Whoever has a load in
    it may, and whoever books kilns there; a class's firing is opened by who teaches it, or who looks after
    firings there. Said again, it is changed. Raises NotAllowed, NotYours, InvalidInput or Over.
    """
    loads = _take_up(actor, firing)
    cut_off = _cut_off(firing, until)
    if class_loads(loads):
        firing.shelves_kept = _kept(firing, loads, shelves_kept)
    elif shelves_kept is not None:
        problem = said("No class has pieces in it; only a class keeps shelves.")
        raise InvalidInput(field="shelves_kept", problem=problem, reason="no-class")
    if not laid_out(firing):
        raise Over(what=str(firing), why=said("has loads whose places on the shelves are not known"))
    _open(actor, firing, cut_off)
    return firing


def _cut_off(firing: Firing, until: dt.datetime | None) -> dt.datetime:
    """Raises InvalidInput."""
    begins = firing.occupancy.starts_at
    cut_off = begins if until is None else moment(floor_minutes(until))
    if timezone.now() < cut_off <= begins:
        return cut_off
    raise InvalidInput(
        field="until",
        problem=said(
            "Pieces are added from now until loading begins, {when}, at the latest.",
            when=when(begins, firing.equipment.studio),
        ),
    )


def _kept(firing: Firing, loads: Sequence[Load], asked: int | None) -> int:
    """How many shelves the class keeps; at least one above them is for others. Raises InvalidInput."""
    hindrance = hindrance_of(firing, loads)
    if hindrance is not None:
        raise InvalidInput(field="firing", problem=hindrance.sentence, reason=hindrance.reason)
    keeping = keeping_of(firing, loads)
    kept = keeping.usual if asked is None else asked
    if keeping.least <= kept <= keeping.most:
        return kept
    raise InvalidInput(
        field="shelves_kept",
        problem=said(
            "Of the {levels} shelves the class keeps {least} at least, as its pieces need them, and {most} "
            "at most, as others stand above them.",
            levels=firing.equipment.shelf_levels,
            least=keeping.least,
            most=keeping.most,
        ),
        reason="shelves-kept",
    )


@one_write
def withdraw(*, actor: Person, firing: Firing) -> Firing:
    """Nobody adds anything more; what was added stays. Raises NotAllowed, NotYours or Over."""
    _take_up(actor, firing)
    if firing.takes_more_until is None:
        raise Over(what=str(firing), why=said("is not open to others"))
    _open(actor, firing, None)
    return firing


def _open(actor: Person, firing: Firing, until: dt.datetime | None) -> None:
    firing.takes_more_until = until
    firing.save(update_fields=["takes_more_until", "shelves_kept"])
    studio, did = firing.equipment.studio, "withdraw-space" if until is None else "offer-space"
    noted = str(firing) if until is None else f"{firing}, until {when(until, studio)}"
    if until is not None and firing.shelves_kept:
        noted += f", shelves kept: {firing.shelves_kept}"
    audit.note(actor=actor, did=did, subject=firing, studio=studio, said=noted)


def _take_up(actor: Person, firing: Firing) -> list[Load]:
    """Lock a firing that somebody may open or close; its loads. Raises NotAllowed, NotYours or Over."""
    lock_firing(firing)
    firing.refresh_from_db()
    loads = list(firing.loads.select_related("session").prefetch_related("stands"))
    _require_minder(actor, firing, loads)
    if firing.status != BookingStatus.BOOKED:
        raise Over(what=str(firing), why=said("is called off"))
    if begun(firing):
        raise Over(what=str(firing), why=said("has begun"))
    return loads


def _require_minder(actor: Person, firing: Firing, loads: Sequence[Load]) -> None:
    """What a class has in it is not for those to open who only stand beside it. NotAllowed or NotYours."""
    studio = firing.equipment.studio
    if class_loads(loads):
        if not opens(actor, firing, loads):
            raise NotAllowed(
                who=actor.name,
                what=said("open or close the firing of a class"),
                studio=studio.name,
                role=said("technician"),
            )
    elif not any(load.owner_id == actor.pk for load in loads) and not may(actor, "book-kiln-job", studio):
        raise NotYours(what=str(firing))


def laid_out(firing: Firing) -> bool:
    """Whether it is known where everything stands; what is a class's, on the shelves that it keeps."""
    unknown = firing.loads.exclude(stands__level__isnull=False)
    if firing.shelves_kept:
        unknown = unknown.filter(session__isnull=True)
    return measured(firing.equipment) and not unknown.exists()
