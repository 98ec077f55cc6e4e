"""Glasses: shared by all studios of the network, so that pieces of two may go into one firing."""

from __future__ import annotations

from scheduling.errors import InUse, NotAllowed
from scheduling.models import Load
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.set_up.names import free_slug
from scheduling.services.transactions import one_write
from studios.models import GlassType, Person, Studio
from studios.said import said
from studios.selectors import studios_where
from studios.thermal import FAMILIES


@one_write
def add_glass(*, actor: Person, studio: Studio, glass: GlassType) -> GlassType:
    """A glass by its data sheet, for every studio of the network. Raises NotAllowed or InvalidInput."""
    begin(actor, "set-up", studio)
    glass.slug = free_slug(GlassType, glass.name, frozenset({"family"}))
    checked(glass).save()
    note(actor, studio, f"Glass {glass.name} is here: {glass.source}")
    return glass


@one_write
def add_family(*, actor: Person, studio: Studio, family: str) -> GlassType:
    """A family of glass to start from where no data sheet is at hand. Raises NotAllowed or InvalidInput."""
    begin(actor, "set-up", studio)
    glass = checked(GlassType.of_family(FAMILIES[family]))
    glass.save()
    note(actor, studio, f"Glass {glass.name} is here: {glass.source}")
    return glass


@one_write
def change_glass(*, actor: Person, studio: Studio, glass: GlassType) -> GlassType:
    """The values of a glass that no piece has been booked in yet.

    Booked firings were worked out from what it says: another data sheet is another glass. Raises NotAllowed,
    InvalidInput or InUse.
    """
    begin(actor, "set-up", studio)
    if used_by := used_elsewhere(glass, actor):
        raise NotAllowed(who=actor.name, what=said("change this glass"), studio=used_by, role="manager")
    if Load.objects.filter(glass=glass).exists():
        raise InUse(
            what=glass.name,
            by=said("pieces that are booked, and worked out from these values"),
            instead=said("Add another glass with the new values, and let courses use that."),
        )
    checked(glass).save()
    note(actor, studio, f"Glass {glass.name} is changed: {glass.source}")
    return glass


def used_elsewhere(glass: GlassType, actor: Person) -> str:
    """A studio that teaches with a glass and that this person does not set up; none: empty."""
    teaching = Studio.objects.filter(courses__glass=glass).exclude(pk__in=studios_where(actor, "set-up"))
    return teaching.order_by("name").values_list("name", flat=True).first() or ""
