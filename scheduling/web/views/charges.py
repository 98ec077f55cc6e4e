"""A furnace's charges: what the pot holds, where the next one fits, booking it, measuring, giving it up."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.models import BookingStatus, Charge
from scheduling.selectors import visible
from scheduling.selectors.stores import charge_proposal
from scheduling.services.charges import book_charge, cancel_charge, measure_pot, require_charger
from scheduling.web.access import permitted, person_of
from scheduling.web.charge_forms import ByWhen, ChargeForm, LevelForm
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Equipment

# What is filled in must still lie ahead when it is sent, and whoever charges has to be there.
TO_GET_THERE = dt.timedelta(minutes=15)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def charges(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What is in the pot and what is to come; the earliest charge that fits is filled in."""
    furnace = _furnace(request, uid)
    form = ChargeForm(request.POST if request.method == "POST" else None, studio=furnace.studio)
    if request.method == "POST" and form.is_valid() and _booked(request, furnace, form):
        return redirect("charges", uid=uid)
    return _shown(request, furnace, form, LevelForm())


@login_required
@require_POST
def measure(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The level as it is read now; what then finds too little glass is said."""
    furnace = _furnace(request, uid)
    form = LevelForm(request.POST)
    if form.is_valid() and _measured(request, furnace, form):
        return redirect("charges", uid=uid)
    return _shown(request, furnace, ChargeForm(None, studio=furnace.studio), form)


@login_required
@require_POST
def give_up(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A charge that has not begun is called off, unless its glass is needed."""
    charge = visible.charges_of(person_of(request)).filter(uid=uid).first()
    if charge is None:
        raise Http404
    _require_may(request, charge.furnace)
    try:
        cancel_charge(actor=person_of(request), charge=charge)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("The charge is given up; its hours are free."))
    return redirect("charges", uid=charge.furnace.uid)


def _furnace(request: HttpRequest, uid: UUID) -> Equipment:
    furnace = visible.furnaces_of(person_of(request)).filter(uid=uid).first()
    if furnace is None:
        raise Http404
    _require_may(request, furnace)
    return furnace


def _require_may(request: HttpRequest, furnace: Equipment) -> None:
    with permitted():
        require_charger(person_of(request), furnace)


def _booked(request: HttpRequest, furnace: Equipment, form: ChargeForm) -> bool:
    starts_at = form.at("day", "time")
    if starts_at is None:
        return False
    try:
        charge = book_charge(
            actor=person_of(request),
            furnace=furnace,
            starts_at=starts_at,
            level_after_kg=form.cleaned_data["level_after_kg"],
        )
    except LehrbookError as error:
        field = "level_after_kg" if error.field == "level_after_kg" else "time"
        form.add_error(field, str(error))
        return False
    said = {"furnace": furnace.name, "when": when(charge.ends_at, furnace.studio)}
    messages.success(request, _("%(furnace)s is charged; its glass is ready by %(when)s.") % said)
    return True


def _measured(request: HttpRequest, furnace: Equipment, form: LevelForm) -> bool:
    at = timezone.now().replace(second=0, microsecond=0)
    try:
        found = measure_pot(
            actor=person_of(request), furnace=furnace, at=at, level_kg=form.cleaned_data["level_kg"]
        )
    except LehrbookError as error:
        form.add_error("level_kg", str(error))
        return False
    messages.success(request, _("The level is entered."))
    for dry in found.runs_dry:
        said = {"what": dry.what, "when": when(dry.starts_at, furnace.studio)}
        messages.warning(request, _("Too little glass by then: %(what)s, %(when)s.") % said)
    return True


def _shown(request: HttpRequest, furnace: Equipment, form: ChargeForm, level: LevelForm) -> HttpResponse:
    wish = ByWhen(request.GET if "day" in request.GET else None, studio=furnace.studio)
    proposal, problem = None, ""
    try:
        proposal = charge_proposal(
            furnace=furnace, ends_by=wish.moment(), not_before=timezone.now() + TO_GET_THERE
        )
    except LehrbookError as error:
        problem = str(error)
    if proposal is not None and proposal.starts_at is not None and not form.is_bound:
        form = ChargeForm(None, studio=furnace.studio, starts_at=proposal.starts_at)
    to_come = Charge.objects.charges().filter(
        furnace=furnace, ends_at__gt=timezone.now(), status=BookingStatus.BOOKED
    )
    context = {
        "furnace": furnace,
        "studio": furnace.studio,
        "zone": furnace.studio.zone,
        "form": form,
        "level": level,
        "wish": wish,
        "proposal": proposal,
        "problem": problem,
        "to_come": to_come.select_related("booked_by").order_by("starts_at", "pk"),
        "now": timezone.now(),
    }
    return render(request, "web/charges.html", context, status=409 if form.errors or level.errors else 200)
