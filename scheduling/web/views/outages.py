"""Equipment out of use: entered, what it breaks and how that is repaired, ended early, withdrawn."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.models import Charge, Outage, Seat, SeatStatus, Session
from scheduling.selectors import visible
from scheduling.selectors.broken import Broken
from scheduling.selectors.repair_hours import repair_hours
from scheduling.services.bench_moves import move_bench_time
from scheduling.services.charges import move_charge
from scheduling.services.moving import may_move, move_session
from scheduling.services.outages import end_outage, enter_outage, require_may_enter, withdraw_outage
from scheduling.services.repairing import broken_with_repairs
from scheduling.web.access import permitted, person_of
from scheduling.web.change_forms import EndForm, OutageForm, RepairForm
from scheduling.web.views.booking import chosen_start
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Equipment, Person, Studio


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest, uid: UUID) -> HttpResponse:
    """From when to when a piece of equipment is out of use; what it breaks is shown next.

    Hours in which it breaks nothing are offered, as long as the repair takes; a click fills them in.
    """
    equipment = _equipment(request, uid)
    form = OutageForm(
        request.POST if request.method == "POST" else None,
        studio=equipment.studio,
        initial=_now(equipment) | _asked(request),
    )
    if request.method == "POST" and form.is_valid():
        starts_at, ends_at = form.at("first_day", "first_time"), form.at("last_day", "last_time")
        if starts_at is not None and ends_at is not None:
            outage = _entered(request, equipment, form, starts_at, ends_at)
            if outage is not None:
                return redirect("outage", uid=outage.uid)
    return _entry_shown(request, equipment, form)


def _equipment(request: HttpRequest, uid: UUID) -> Equipment:
    equipment = visible.equipment_of(person_of(request)).filter(uid=uid).first()
    if equipment is None:
        raise Http404
    _require_may(request, equipment)
    return equipment


def _require_may(request: HttpRequest, equipment: Equipment) -> None:
    with permitted():
        require_may_enter(person_of(request), equipment)


def _now(equipment: Equipment) -> dict[str, object]:
    """From now on, until somebody says."""
    local = timezone.now().astimezone(equipment.studio.zone)
    return {"first_day": local.date(), "first_time": local.time(), "last_day": local.date()}


def _asked(request: HttpRequest) -> dict[str, object]:
    """The hours that were chosen among those offered."""
    names = ("first_day", "first_time", "last_day", "last_time")
    return {name: request.GET[name] for name in names if request.GET.get(name)}


def _entered(
    request: HttpRequest, equipment: Equipment, form: OutageForm, starts_at: dt.datetime, ends_at: dt.datetime
) -> Outage | None:
    try:
        outage = enter_outage(
            actor=person_of(request),
            equipment=equipment,
            starts_at=starts_at,
            ends_at=ends_at,
            reason=form.cleaned_data["reason"],
        )
    except LehrbookError as error:
        field = {"ends_at": "last_time", "starts_at": "first_time"}.get(error.field or "", error.field)
        form.add_error(field if field in form.fields else None, str(error))
        return None
    said = {"what": equipment, "until": when(ends_at, equipment.studio)}
    messages.success(request, _("%(what)s is out of use until %(until)s.") % said)
    return outage


def _entry_shown(request: HttpRequest, equipment: Equipment, form: OutageForm) -> HttpResponse:
    to_come = equipment.outages.filter(ends_at__gt=timezone.now()).order_by("starts_at", "pk")
    length = RepairForm(request.GET if "hours" in request.GET else None)
    hours = length.cleaned_data["hours"] if length.is_bound and length.is_valid() else RepairForm.USUAL
    context = {
        "equipment": equipment,
        "studio": equipment.studio,
        "zone": equipment.studio.zone,
        "form": form,
        "length": length,
        "hours": hours,
        "fits": repair_hours(equipment, round(hours * 60)),
        "to_come": to_come,
    }
    return render(request, "web/enter_outage.html", context, status=409 if form.errors else 200)


@login_required
@require_safe
def outage(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What an outage breaks, each booking with its nearest repair; one click carries a repair out."""
    return _outage_shown(request, _outage(request, uid))


def _outage(request: HttpRequest, uid: UUID) -> Outage:
    row = visible.outages_of(person_of(request)).filter(uid=uid).first()
    if row is None:
        raise Http404
    _require_may(request, row.equipment)
    return row


def _outage_shown(
    request: HttpRequest, row: Outage, form: EndForm | None = None, status: int = 200
) -> HttpResponse:
    person, studio, now = person_of(request), row.equipment.studio, timezone.now()
    local = now.astimezone(studio.zone)
    found = broken_with_repairs(actor=person, outage=row)
    context = {
        "outage": row,
        "equipment": row.equipment,
        "studio": studio,
        "zone": studio.zone,
        "broken": [(each, _may_repair(person, each)) for each in found],
        "begun": row.starts_at < now,
        "over": row.ends_at <= now,
        "form": form or EndForm(studio=studio, initial={"day": local.date(), "time": local.time()}),
    }
    return render(request, "web/outage.html", context, status=status)


def _may_repair(person: Person, broken: Broken) -> bool:
    """Who enters outages moves bench time and charges, too; a kept seat is given up by itself."""
    if isinstance(broken.subject, Seat):
        return broken.subject.status == SeatStatus.BOOKED
    if isinstance(broken.subject, Charge):
        return True
    return broken.session is not None and may_move(person, broken.session)


@login_required
@require_POST
def repair(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What is broken goes to the start that was found for it; whoever it concerns is told."""
    row, person = _outage(request, uid), person_of(request)
    broken = _named(request, row.equipment.studio)
    try:
        what, starts_at = _carried_out(person, broken, chosen_start(request))
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        said = {"what": what, "at": when(starts_at, row.equipment.studio)}
        messages.success(request, _("%(what)s is repaired: %(at)s. All it concerns are told.") % said)
    return redirect("outage", uid=uid)


def _named(request: HttpRequest, studio: Studio) -> Session | Seat | Charge:
    """The class, the bench time or the charge that the form names, at this studio."""
    person = person_of(request)
    rows: dict[str, QuerySet[Any]] = {
        "session": visible.sessions_of(person).filter(studio=studio),
        "seat": visible.bench_time_at(studio),
        "charge": visible.charges_of(person).filter(furnace__studio=studio),
    }
    name = next((name for name in rows if name in request.POST), None)
    found = rows[name].filter(uid=_uid(request.POST[name])).first() if name is not None else None
    if found is None:
        raise Http404
    return found


def _uid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError as error:
        raise Http404 from error


def _carried_out(
    person: Person, broken: Session | Seat | Charge, starts_at: dt.datetime
) -> tuple[str, dt.datetime]:
    """What was repaired, and when it is now."""
    match broken:
        case Session():
            moved = move_session(actor=person, session=broken, starts_at=starts_at)
            return str(moved.course), moved.starts_at
        case Seat():
            seat = move_bench_time(actor=person, seat=broken, starts_at=starts_at)
            said = {"who": seat.person.name, "torch": seat.torch}
            return _("Bench time of %(who)s, with %(torch)s,") % said, seat.starts_at
        case Charge():
            charge = move_charge(actor=person, charge=broken, starts_at=starts_at)
            return _("Charge of %(what)s") % {"what": charge.furnace}, charge.starts_at


@login_required
@require_POST
def end(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The equipment is in use again before it was to be."""
    row = _outage(request, uid)
    form = EndForm(request.POST, studio=row.equipment.studio)
    ends_at = form.at("day", "time") if form.is_valid() else None
    if ends_at is None:
        return _outage_shown(request, row, form, status=409)
    try:
        ended = end_outage(actor=person_of(request), outage=row, ends_at=ends_at)
    except LehrbookError as error:
        form.add_error("time" if error.field else None, str(error))
        return _outage_shown(request, row, form, status=409)
    said = {"what": row.equipment, "at": when(ended.ends_at, row.equipment.studio)}
    messages.success(request, _("%(what)s is in use again from %(at)s.") % said)
    return redirect("outage", uid=uid)


@login_required
@require_POST
def withdraw(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The outage does not come: it is as if it had never been entered."""
    row = _outage(request, uid)
    try:
        withdraw_outage(actor=person_of(request), outage=row)
    except LehrbookError as error:
        messages.error(request, str(error))
        return redirect("outage", uid=uid)
    messages.success(request, _("The outage of %(what)s is withdrawn.") % {"what": row.equipment})
    return redirect("enter-outage", uid=row.equipment.uid)
