"""A person's own seats and classes."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from scheduling.models import Seat
from scheduling.selectors.safety import left_to_read
from scheduling.selectors.seats import kept_for
from scheduling.selectors.sessions import full_sessions, seats_of, sessions_with_seats, taught_by
from scheduling.services.seats import cancel_seat
from scheduling.web.access import person_of
from scheduling.web.lists import by_month, by_studio, zones_of
from studios.errors import LehrbookError
from studios.selectors import studios_of

PAST_SHOWN, OPEN_SHOWN, FULL_SHOWN = 20, 40, 20


@login_required
@require_safe
def my_seats(request: HttpRequest) -> HttpResponse:
    """What comes next, pieces to collect, lines, seats to come, classes with a free seat, what is past."""
    person, now = person_of(request), timezone.now()
    seats, studios = seats_of(person), studios_of(person)
    fetched = Q(collect_at__isnull=True) | Q(collect_at__lte=now)
    coming = list(seats.filter(ends_at__gt=now))
    context = {
        "next": coming[0] if coming else None,
        "coming": by_month(coming[1:]),
        "awaited": seats.filter(Q(ends_at__lte=now, collect_at__gt=now)),
        "past": seats.filter(fetched, ends_at__lte=now).order_by("-starts_at")[:PAST_SHOWN],
        "teaching": by_month(taught_by(person)),
        "open": by_studio(sessions_with_seats(person=person), studios, OPEN_SHOWN),
        "full": by_studio(full_sessions(person=person), studios, FULL_SHOWN),
        "kept": kept_for(person),
        "left_to_read": left_to_read(person),
        "zones": zones_of(studios),
        "now": now,
    }
    return render(request, "web/my_seats.html", context)


@login_required
@require_POST
def give_back(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A seat is free again; one's own, or a student's where one may."""
    person = person_of(request)
    seat = get_object_or_404(
        Seat.objects.select_related("session", "torch"), uid=uid, studio__in=studios_of(person)
    )
    place = _place(seat)
    try:
        cancel_seat(actor=person, seat=seat)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("%(place)s is free again.") % {"place": place})
    if seat.session and seat.person_id != person.pk:
        return redirect("session", uid=seat.session.uid)
    return redirect("my-seats")


def _place(seat: Seat) -> str:
    if seat.torch and not seat.session:
        return _("Torch %(number)s") % {"number": seat.torch.number}
    return _("Seat %(number)s") % {"number": seat.number}
