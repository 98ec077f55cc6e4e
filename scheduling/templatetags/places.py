"""The way to the pages that somebody may open: the daily ones in a row, the office's behind one word."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django import template
from django.utils.translation import gettext_lazy as _

from scheduling.selectors.audit import READS
from scheduling.web import setup_urls
from studios.models import Person
from studios.selectors import allowed_anywhere

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

register = template.Library()


@dataclass(frozen=True)
class Place:
    """A page by the name of its address, for whoever may do one of these things anywhere, or for all."""

    name: str
    label: StrOrPromise
    by: tuple[str, ...] = ()
    within: frozenset[str] = frozenset()

    def is_for(self, person: Person) -> bool:
        return not self.by or any(allowed_anywhere(person, action) for action in self.by)

    def holds(self, name: str) -> str:
        """How its link says that we are here: at the very page, or at one that belongs to it."""
        if name == self.name:
            return "page"
        return "true" if name in self.within or name.startswith(f"{self.name}-") else ""


SET_UP = frozenset(str(page.name) for page in setup_urls.urlpatterns)
DAILY = (
    Place("week", _("Week")),
    Place("book", _("Book a class"), ("book",)),
    Place("round", _("Round"), ("tick",)),
    Place("kiln-jobs", _("Kiln jobs"), ("ask-kiln-job",)),
    Place("torches", _("Torches")),
    Place("my-seats", _("My seats")),
    Place("calendars", _("Calendars")),
    Place("pick-up", _("Pick-up"), ("hand-out",)),
)
OFFICE = (
    Place("people", _("People"), ("keep-people", "vouch")),
    Place("payments", _("Payments"), ("mark-paid",)),
    Place("outbox", _("Outbox"), ("see-outbox",)),
    Place("audit", _("Audit"), (READS,)),
    Place("set-up", _("Set-up"), ("set-up-equipment",), SET_UP),
)
ALWAYS = (Place("cautions", _("Cautions")),)
# So few stand in the row themselves.
NO_OFFICE = 1


@register.inclusion_tag("web/_places.html", takes_context=True)
def places(context: Mapping[str, Any]) -> dict[str, object]:
    """Where the person can go from here."""
    request = context["request"]
    match = request.resolver_match
    here = (match.url_name if match else None) or ""
    daily, office, always = (list(_ways(some, request.user, here)) for some in (DAILY, OFFICE, ALWAYS))
    if len(office) <= NO_OFFICE:
        daily, office = daily + office, []
    return {"daily": daily + ([] if office else always), "office": office, "always": always if office else []}


def _ways(some: Iterable[Place], person: Person, here: str) -> Iterator[tuple[Place, str]]:
    return ((place, place.holds(here)) for place in some if place.is_for(person))
