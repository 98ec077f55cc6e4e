"""What pages say of waiting lines and of what is paid."""

from __future__ import annotations

from collections.abc import Sequence

from django import template

from scheduling.models import Session, WaitingPlace
from scheduling.selectors.line import LineAt, line_at, waits_of
from scheduling.services.line import offered_until
from studios.models import Person

register = template.Library()


@register.simple_tag
def line_behind(session: Session, person: Person) -> LineAt:
    """The waiting line of a session, as a person sees it."""
    return line_at(session, person)


@register.simple_tag
def line_is_open(session: Session) -> bool:
    """Whether an offer that is made now would still reach somebody in time."""
    return offered_until(session) is not None


@register.simple_tag
def waits(person: Person) -> Sequence[WaitingPlace]:
    """The lines in which a person waits; what is offered stands among what is kept."""
    return waits_of(person)
