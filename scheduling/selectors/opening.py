"""Opening a class's kiln firing to others: whether it may be, and how many shelves the class keeps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.kiln_work.beside import step_of
from scheduling.models import BookingStatus, Firing, Load
from scheduling.selectors.shelf_levels import measured, stands_of, within_cm2
from studios.models import EquipmentKind, Person
from studios.said import said
from studios.selectors import may
from studios.thermal import Recipe

OPENS = "open-class-firing"
# So much of a shelf is covered when it is filled with care: common practice, no source.
CAREFUL_FILL = 0.7


@dataclass(frozen=True, kw_only=True)
class Hindrance:
    """Why a firing cannot be opened to others: which rule, and a sentence to act on."""

    reason: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """How many shelves a class keeps, from below: `least` to `most`.

    Unless something else is said it is `usual`: what it keeps already, else `careful`, as few as it needs.
    """

    usual: int
    careful: int
    least: int
    most: int


@dataclass(frozen=True, kw_only=True)
class Opening:
    """A class's firing as whoever may open it sees it; a hindrance stands in place of what it may keep."""

    firing: Firing
    keeping: Keeping | None
    hindrance: Hindrance | None


def opening_of(person: Person, firing: Firing) -> Opening | None:
    """What somebody may open or close; None where there is nothing for them to say of it."""
    at_kiln = firing.equipment.kind == EquipmentKind.KILN and firing.status == BookingStatus.BOOKED
    loads = list(firing.loads.select_related("session").prefetch_related("stands"))
    if not at_kiln or not class_loads(loads) or not opens(person, firing, loads) or begun(firing):
        return None
    hindrance = hindrance_of(firing, loads)
    keeping = None if hindrance is not None else keeping_of(firing, loads)
    return Opening(firing=firing, keeping=keeping, hindrance=hindrance)


def class_loads(loads: Sequence[Load]) -> list[Load]:
    """The loads that classes have in a firing."""
    return [load for load in loads if load.session is not None]


def opens(person: Person, firing: Firing, loads: Sequence[Load]) -> bool:
    """Whoever teaches a class in it may, and whoever looks after the firings there."""
    taught = any(load.session.instructor_id == person.pk for load in class_loads(loads) if load.session)
    return taught or may(person, OPENS, firing.equipment.studio)


def begun(firing: Firing) -> bool:
    """Whether its loading has begun, by the plan or by what was recorded."""
    return firing.occupancy.starts_at <= timezone.now() or firing.actuals.exists()


def hindrance_of(firing: Firing, loads: Sequence[Load]) -> Hindrance | None:
    """The first rule that keeps a class's firing from being opened to others."""
    kiln, step = firing.equipment, step_of(Recipe(firing.recipe))
    if step is None:
        return Hindrance(reason="program", sentence=said("Nobody asks for a firing by such a program."))
    if not step.stacks:
        sentence = said(
            "What is fired by this program lies on one shelf, and none stands above it: the class has it."
        )
        return Hindrance(reason="not-stacked", sentence=sentence)
    if not measured(kiln):
        sentence = said(
            "Nobody has measured the shelves of {kiln}: enter them in its set-up.", kiln=kiln.name
        )
        return Hindrance(reason="not-measured", sentence=sentence)
    keeping = keeping_of(firing, loads)
    if keeping.least > keeping.most:
        sentence = said(
            "No shelf of {kiln} is left for others above those of the class ({levels} in all).",
            kiln=kiln.name,
            levels=kiln.shelf_levels,
        )
        return Hindrance(reason="no-shelf-left", sentence=sentence)
    return None


def keeping_of(firing: Firing, loads: Sequence[Load]) -> Keeping:
    """As few as its pieces need, by area and at a careful fill; below what others have added."""
    kiln, own = firing.equipment, sum(load.footprint_cm2 for load in class_loads(loads))
    shelf_cm2 = max(1, within_cm2(kiln))
    careful = max(1, math.ceil(own / (CAREFUL_FILL * shelf_cm2)))
    others = [stand.level or 1 for stand in stands_of(loads)]
    return Keeping(
        usual=firing.shelves_kept or careful,
        careful=careful,
        least=max(1, math.ceil(own / shelf_cm2)),
        most=min([kiln.shelf_levels, *others]) - 1,
    )
