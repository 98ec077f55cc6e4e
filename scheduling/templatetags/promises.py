"""What pages say of waiting lines and of what is paid."""

from __future__ import annotations

from collections.abc import Sequence

from django import template

from scheduling.engine.clock import moment
from scheduling.models import Session, WaitingPlace
from scheduling.selectors.least import flagged_at
from scheduling.selectors.line import LineAt, line_at, waits_of
from scheduling.selectors.sheet import StudioDays
from scheduling.services.line import offered_until
from studios.models import Person
from studios.selectors import allowed_anywhere

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
def below_least_in(days: StudioDays) -> Sequence[Session]:
    """The classes on a sheet to which too few people come, from their decision day on."""
    return flagged_at(days.studio, moment(days.span[0]), moment(days.span[1]))


@register.simple_tag
def waits(person: Person) -> Sequence[WaitingPlace]:
    """The lines in which a person waits; what is offered stands among what is kept."""
    return waits_of(person)


@register.simple_tag
def marks_paid(person: Person) -> bool:
    """Whether somebody marks seats as paid anywhere, so that the way there is shown."""
    return allowed_anywhere(person, "mark-paid")
