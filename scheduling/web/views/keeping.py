"""A seat that is kept for somebody while they fill in its form; and a studio's safety text, read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.models import Seat, SeatStatus
from scheduling.selectors.safety import day_at, to_acknowledge
from scheduling.selectors.seats import WHOLE, given_back_until, is_kept
from scheduling.selectors.sessions import free_torches_of
from scheduling.services.keeping import book_kept, keep_longer, let_go
from scheduling.services.safety import acknowledge
from scheduling.web.access import person_of, studio_named
from scheduling.web.keeping_form import KeptSeatForm
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Equipment
from studios.selectors import may, studios_of


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def kept_seat(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The form of a kept or offered seat: until what clock time it is kept; a POST books it."""
    seat = _seat(request, uid)
    form = _form(request, seat)
    if request.method == "POST" and form.is_valid():
        try:
            book_kept(actor=person_of(request), seat=seat, **form.cleaned_data)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request, _("%(place)s is yours; it stands among your seats.") % {"place": _place(seat)}
            )
            return _back(request, seat)
        seat = _seat(request, uid)
    if seat.status == SeatStatus.BOOKED:
        return _back(request, seat)
    return _shown(request, seat, form, status=409 if request.method == "POST" else 200)


def _shown(request: HttpRequest, seat: Seat, form: KeptSeatForm, status: int) -> HttpResponse:
    context = {
        "seat": seat,
        "studio": seat.studio,
        "zone": seat.studio.zone,
        "form": form,
        "kept": is_kept(seat),
        "offered": hasattr(seat, "waiting_place"),
        "until": given_back_until(seat),
        "gives_back": timezone.now() <= given_back_until(seat),
        "place": _place(seat),
        "hours": urlencode(_hours(seat)),
    }
    return render(request, "web/kept_seat.html", context, status=status)


def _hours(seat: Seat) -> dict[str, str]:
    """The same hours of the same studio, as the torch bench is asked for them."""
    starts, ends = (moment.astimezone(seat.studio.zone) for moment in (seat.starts_at, seat.ends_at))
    return {
        "studio": seat.studio.slug,
        "day": f"{starts:%Y-%m-%d}",
        "starts": f"{starts:%H:%M}",
        "ends": f"{ends:%H:%M}",
    }


@login_required
@require_POST
def longer(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Once."""
    seat = _seat(request, uid)

    def kept_until() -> str:
        keep_longer(actor=person_of(request), seat=seat)
        until = when(seat.kept_until, seat.studio) if seat.kept_until else ""
        return _("Kept until %(until)s.") % {"until": until}

    _said(request, kept_until)
    return redirect("kept-seat", uid=uid)


@login_required
@require_POST
def drop(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Somebody else can have it."""
    seat = _seat(request, uid)

    def dropped() -> str:
        let_go(actor=person_of(request), seat=seat)
        return _("%(place)s is free for somebody else.") % {"place": _place(seat)}

    _said(request, dropped)
    return redirect("session", uid=seat.session.uid) if seat.session else redirect("torches")


@login_required
@require_POST
def read(request: HttpRequest) -> HttpResponse:
    """A safety text is read, for the term of a day."""
    person, day = person_of(request), _day(request.POST.get("day", ""))
    studio = studio_named(request.POST.get("studio", ""), studios_of(person))
    version = request.POST.get("acknowledged", "")
    if studio is None or day is None:
        raise Http404
    if not version.isdecimal():
        messages.error(request, _("Tick that you have read the safety text."))
        return redirect("my-seats")

    def known() -> str:
        acknowledge(person=person, studio=studio, on_day=day, version=int(version[:6]))
        return _("You have read the safety text of %(studio)s.") % {"studio": studio.name}

    _said(request, known)
    return redirect("my-seats")


def _day(text: str) -> dt.date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None


def _said(request: HttpRequest, does: Callable[[], str]) -> None:
    try:
        messages.success(request, does())
    except LehrbookError as error:
        messages.error(request, str(error))


def _seat(request: HttpRequest, uid: UUID) -> Seat:
    """One's own, or that of somebody for whom one may reserve; others are not found."""
    person = person_of(request)
    seat = get_object_or_404(Seat.objects.select_related(*WHOLE), uid=uid, studio__in=studios_of(person))
    if seat.person_id != person.pk and not may(person, "reserve-for-others", seat.studio):
        raise Http404
    return seat


def _form(request: HttpRequest, seat: Seat) -> KeptSeatForm:
    text = None
    if seat.person_id == person_of(request).pk:
        day = day_at(seat.studio, seat.starts_at)
        text = to_acknowledge(person=seat.person, studio=seat.studio, day=day)
    given = request.POST if request.method == "POST" else None
    own = {"torch": seat.torch.uid} if seat.torch else {}
    return KeptSeatForm(given, text=text, torches=_torches(seat), initial=own)


def _torches(seat: Seat) -> QuerySet[Equipment]:
    """In a class: the own torch, and those that are free."""
    return free_torches_of(seat) if seat.session else Equipment.objects.none()


def _place(seat: Seat) -> str:
    if seat.session is None:
        return f"{seat.torch}" if seat.torch else ""
    facts = {"number": seat.number, "torch": seat.torch, "course": seat.session.course}
    if seat.torch:
        return _("Seat %(number)s, %(torch)s, in %(course)s") % facts
    return _("Seat %(number)s in %(course)s") % facts


def _back(request: HttpRequest, seat: Seat) -> HttpResponse:
    if seat.session and seat.person_id != person_of(request).pk:
        return redirect("session", uid=seat.session.uid)
    return redirect("my-seats")
