"""The waiting line of a class: joining and leaving."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from scheduling.models import LineStatus, WaitingPlace
from scheduling.selectors.line import places_to_change
from scheduling.selectors.visible import sessions_of
from scheduling.services.in_line import join_line, leave_line
from scheduling.web.access import person_of
from studios.errors import LehrbookError


@login_required
@require_POST
def join(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Oneself, at the end of the line; where a seat is free for one it is offered at once."""
    person = person_of(request)
    session = get_object_or_404(sessions_of(person), uid=uid)
    try:
        place = join_line(actor=person, session=session)
    except LehrbookError as error:
        messages.error(request, str(error))
        return redirect("session", uid=uid)
    if place.status == LineStatus.OFFERED and place.seat is not None:
        return redirect("kept-seat", uid=place.seat.uid)
    messages.success(request, _("You are in the waiting line of %(course)s.") % {"course": session.course})
    return redirect("session", uid=uid)


@login_required
@require_POST
def leave(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Oneself, or somebody else where one may; what was offered goes to the next."""
    person = person_of(request)
    place = get_object_or_404(places_to_change(person), uid=uid)
    try:
        leave_line(actor=person, place=place)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _left(place, own=place.person == person))
    return redirect("session" if place.person == person else "roster", uid=place.session.uid)


def _left(place: WaitingPlace, *, own: bool) -> str:
    said = _("You wait for %(course)s no longer.") if own else _("%(who)s waits for %(course)s no longer.")
    return said % {"who": place.person, "course": place.session.course}
