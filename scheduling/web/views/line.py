"""The waiting line of a class: joining and leaving."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from scheduling.models import LineStatus
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
    messages.success(request, f"You are in the waiting line of {session.course}.")
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
        who = "You wait" if place.person == person else f"{place.person} waits"
        messages.success(request, f"{who} for {place.session.course} no longer.")
    return redirect("session" if place.person == person else "roster", uid=place.session.uid)
