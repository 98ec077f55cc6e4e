"""What is paid: marking it, and what was given back after it was paid."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from scheduling.models import Seat, SeatStatus
from scheduling.selectors.payments import MARKS, bench_unpaid, given_back_paid, seats_to_mark
from scheduling.services.payments import mark_paid, require_marker, unmark_paid
from scheduling.web.access import permitted, person_of
from scheduling.web.lists import zones_of
from scheduling.wording import say
from studios.errors import LehrbookError
from studios.selectors import studios_where

SHOWN = 200


@login_required
@require_safe
def payments(request: HttpRequest) -> HttpResponse:
    """Seats given back after they were paid, and bench time that is not paid yet."""
    person = person_of(request)
    with permitted():
        require_marker(person)
    parts = [
        {
            "key": "given-back",
            "title": gettext("Given back or called off after it was paid"),
            "seats": given_back_paid(person)[:SHOWN],
            "none": gettext("Nothing that was paid has been given back."),
        },
        {
            "key": "bench",
            "title": gettext("Bench time that is not paid yet"),
            "seats": bench_unpaid(person)[:SHOWN],
            "none": gettext("All bench time with a price is paid."),
        },
    ]
    context = {"parts": parts, "zones": zones_of(studios_where(person, MARKS))}
    return render(request, "web/payments.html", context)


@login_required
@require_POST
def mark(request: HttpRequest, uid: UUID) -> HttpResponse:
    """It is paid."""
    return _marked(request, uid, mark_paid, say("is marked as paid"))


@login_required
@require_POST
def unmark(request: HttpRequest, uid: UUID) -> HttpResponse:
    """It is not paid after all, or the money was paid back."""
    return _marked(request, uid, unmark_paid, say("is no longer marked as paid"))


def _marked(request: HttpRequest, uid: UUID, does: Callable[..., Seat], done: str) -> HttpResponse:
    person = person_of(request)
    seat = get_object_or_404(seats_to_mark(person), uid=uid)
    try:
        does(actor=person, seat=seat)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, say("The seat of {person} {done}.", person=seat.person, done=done))
    if seat.session is not None and seat.status == SeatStatus.BOOKED and request.POST.get("back"):
        return redirect("roster", uid=seat.session.uid)
    return redirect("payments")
