"""The thermal record of a piece of equipment, entered by hand; and the pot of a furnace."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.selectors.set_up import today
from scheduling.services.calibrating import Accepted
from scheduling.services.set_up.records import drop_record, enter_record, keep_pot
from scheduling.web.access import person_of
from scheduling.web.setup_forms.equipment import HEATED, USUAL, PotForm, RecordForm
from scheduling.web.setup_words import CAUTIONS
from scheduling.web.views.setup.common import carried_out, equipment_to_set_up, form_page, require, sent
from studios.errors import LehrbookError
from studios.models import Equipment, EquipmentKind, Pot, ThermalRecord
from studios.selectors import studios_of

CALIBRATES = "calibrate"


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A record from a day on, beside those there are; booked firings keep their hours."""
    equipment = equipment_to_set_up(request, uid, CALIBRATES)
    if equipment.kind not in HEATED:
        raise Http404
    form = _form(request, equipment)
    actor, done = person_of(request), list[Accepted]()
    if request.method == "POST" and carried_out(
        lambda: done.append(enter_record(actor=actor, record=form.instance)), form
    ):
        messages.success(request, _said(equipment, done[0]))
        return redirect("equipment", uid=uid)
    return form_page(
        request,
        equipment.studio,
        [form],
        title=_("A record of %(name)s") % {"name": equipment.name},
        lead=_(
            "It holds from a day on. Firings that are booked keep their hours; you are told which it "
            "concerns."
        ),
        button=_("Enter it"),
        back=(reverse("change-equipment", args=[uid]), equipment.name),
        caution=CAUTIONS[EquipmentKind(equipment.kind)],
        records=equipment.thermal_records.order_by("-valid_from"),
        today=today(equipment.studio),
    )


def _form(request: HttpRequest, equipment: Equipment) -> RecordForm:
    """Filled in with the record in force, else with what such equipment is like."""
    day = today(equipment.studio)
    before = equipment.record_on(day)
    names = RecordForm.Meta.fields
    usual = USUAL[EquipmentKind(equipment.kind)]
    filled = {name: getattr(before, name) for name in names} if before else dict(usual)
    initial = filled | {"valid_from": day} | ({"source": ""} if before else {})
    row = ThermalRecord(equipment=equipment)
    return RecordForm(sent(request), instance=row, studio=equipment.studio, initial=initial)


def _said(equipment: Equipment, accepted: Accepted) -> str:
    said = _("%(name)s goes by this record from %(day)s on.")
    first = said % {"name": equipment.name, "day": accepted.record.valid_from}
    if not accepted.moved:
        return first
    kept = ngettext(
        "%(number)s booked firing keeps its hours, although it would be cool at another: %(which)s.",
        "%(number)s booked firings keep their hours, although they would be cool at others: %(which)s.",
        len(accepted.moved),
    )
    which = "; ".join(f"{moved.concerns} ({moved.difference or moved.why})" for moved in accepted.moved)
    return f"{first} {kept % {'number': len(accepted.moved), 'which': which}}"


@login_required
@require_POST
def drop(request: HttpRequest, key: int) -> HttpResponse:
    """A record that has not begun is taken back."""
    rows = ThermalRecord.objects.filter(equipment__studio__in=studios_of(person_of(request)))
    row = get_object_or_404(rows.select_related("equipment__studio"), pk=key)
    require(request, CALIBRATES, row.equipment.studio)
    try:
        drop_record(actor=person_of(request), record=row)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("The record from %(day)s is taken back.") % {"day": row.valid_from})
    return redirect("enter-record", uid=row.equipment.uid)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def pot(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What a furnace holds, and how it is charged."""
    equipment = equipment_to_set_up(request, uid)
    if equipment.kind != EquipmentKind.FURNACE:
        raise Http404
    row = Pot.objects.filter(furnace=equipment).first() or Pot(furnace=equipment)
    form = PotForm(sent(request), instance=row, studio=equipment.studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(lambda: keep_pot(actor=actor, pot=form.instance), form):
        messages.success(request, _("The pot of %(name)s is kept.") % {"name": equipment.name})
        return redirect("change-equipment", uid=uid)
    return form_page(
        request,
        equipment.studio,
        [form],
        title=_("The pot of %(name)s") % {"name": equipment.name},
        lead=_(
            "Its glass is counted from the first charge, or the first measured level, that is recorded. "
            "Charges that are booked keep their hours."
        ),
        button=_("Keep it"),
        back=(reverse("change-equipment", args=[uid]), equipment.name),
        caution=CAUTIONS[EquipmentKind.FURNACE],
    )
