"""Equipment of a studio: what is there, one more, one changed, retired, and in use again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.selectors.set_up import EQUIPS, held_ahead, today
from scheduling.services.set_up.equipment import (
    add_equipment,
    add_torches,
    change_equipment,
    retire_equipment,
    use_again,
)
from scheduling.web.access import person_of
from scheduling.web.setup_forms.equipment import (
    HEATED,
    USUAL,
    USUAL_OF_ITS_OWN,
    DrawsForm,
    EquipmentForm,
    RecordForm,
    TorchForm,
)
from scheduling.web.setup_words import CAUTIONS
from scheduling.web.views.setup.common import (
    Form,
    carried_out,
    equipment_to_set_up,
    form_page,
    sent,
    studio_to_set_up,
)
from studios.errors import LehrbookError
from studios.models import Equipment, EquipmentKind, Person, Studio, ThermalRecord

MOST_HELD = 10


@login_required
@require_safe
def equipment(request: HttpRequest, slug: str) -> HttpResponse:
    """All of it by kind, with what each lacks; a further one of a kind is one click away."""
    studio = studio_to_set_up(request, slug, EQUIPS)
    rows = studio.equipment.select_related("room", "station", "pot")
    rows = rows.prefetch_related("thermal_records", "draws__supply")
    day = today(studio)
    kinds = [
        (kind, [(row, row.record_on(day), kind in HEATED) for row in rows if row.kind == kind])
        for kind in EquipmentKind
    ]
    return render(request, "web/setup/equipment.html", {"studio": studio, "kinds": kinds})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest, slug: str, kind: str) -> HttpResponse:
    """One more of a kind, with what it draws and, where it is heated, how it heats and cools."""
    studio = studio_to_set_up(request, slug, EQUIPS)
    if kind not in EquipmentKind.values:
        raise Http404
    forms = _new_forms(request, studio, EquipmentKind(kind))
    actor = person_of(request)
    if request.method == "POST" and carried_out(lambda: _added(actor, *forms), *forms):
        messages.success(request, _("%(name)s is here.") % {"name": forms[0].instance.name})
        return redirect("set-up-equipment", slug=slug)
    return form_page(
        request,
        studio,
        forms,
        title=_("New: %(kind)s") % {"kind": EquipmentKind(kind).label},
        lead=_("It is held by whoever books it; when it is lit, hot and cool again is worked out."),
        button=_("Add it"),
        back=(reverse("set-up-equipment", args=[slug]), _("Equipment")),
        caution=CAUTIONS[EquipmentKind(kind)],
    )


def _new_forms(
    request: HttpRequest, studio: Studio, kind: EquipmentKind
) -> tuple[EquipmentForm, DrawsForm, *tuple[RecordForm, ...]]:
    given, row = sent(request), Equipment(studio=studio, kind=kind)
    initial = _initial(studio, kind)
    of_kind = TorchForm if kind == EquipmentKind.TORCH else EquipmentForm
    own = of_kind(given, instance=row, studio=studio, initial=initial)
    draws = DrawsForm(given, equipment=row, studio=studio)
    if kind not in HEATED:
        return own, draws
    return own, draws, _record_form(given, row)


def _initial(studio: Studio, kind: EquipmentKind) -> dict[str, Any]:
    """The next of its kind, as such equipment usually is."""
    number = studio.equipment.filter(kind=kind).count() + 1
    name = capfirst(kind.label)
    numbered = f"{name} {number}" if number > 1 and kind != EquipmentKind.TORCH else name
    named = {"name": numbered, "number": number, "last_number": number}
    return named | dict(USUAL_OF_ITS_OWN.get(kind, {}))


def _record_form(given: Any, row: Equipment) -> RecordForm:
    """Filled in with what such equipment is like."""
    initial = {
        "valid_from": today(row.studio),
        "source": _("Estimated: the size that such equipment has, common practice, no source"),
        **USUAL[EquipmentKind(row.kind)],
    }
    return RecordForm(given, instance=ThermalRecord(), studio=row.studio, initial=initial)


def _added(actor: Person, own: EquipmentForm, draws: DrawsForm, record: RecordForm | None = None) -> None:
    if isinstance(own, TorchForm):
        last = own.cleaned_data["last_number"]
        add_torches(actor=actor, torch=own.instance, last_number=last, draws=draws.draws())
        return
    row = record.instance if record is not None else None
    add_equipment(actor=actor, equipment=own.instance, draws=draws.draws(), record=row)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A piece of equipment as it is from now on; below, what holds it and how it is retired."""
    row = equipment_to_set_up(request, uid)
    forms: tuple[EquipmentForm, DrawsForm] = (
        EquipmentForm(sent(request), instance=row, studio=row.studio),
        DrawsForm(sent(request), equipment=row, studio=row.studio),
    )
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: change_equipment(actor=actor, equipment=forms[0].instance, draws=forms[1].draws()), *forms
    ):
        said = _("%(name)s is kept. What is booked keeps its hours and its draws.")
        messages.success(request, said % {"name": row.name})
        return redirect("set-up-equipment", slug=row.studio.slug)
    return _changing(request, equipment_to_set_up(request, uid), forms)


def _changing(request: HttpRequest, row: Equipment, forms: tuple[Form, ...]) -> HttpResponse:
    return form_page(
        request,
        row.studio,
        forms,
        title=row.name,
        lead=_("It holds from now on; what is booked already keeps its hours and its draws."),
        button=_("Keep it"),
        back=(reverse("set-up-equipment", args=[row.studio.slug]), _("Equipment")),
        caution=CAUTIONS[EquipmentKind(row.kind)],
        equipment=row,
        heated=row.kind in HEATED,
        furnace=row.kind == EquipmentKind.FURNACE,
        held=held_ahead(row, MOST_HELD) if row.active else [],
    )


@login_required
@require_POST
def retire(request: HttpRequest, uid: UUID) -> HttpResponse:
    """It is no longer offered; refused while anything booked holds it."""
    row = equipment_to_set_up(request, uid)
    return _done(request, row, retire_equipment, _("%(name)s is retired: nothing new is booked on it."))


@login_required
@require_POST
def again(request: HttpRequest, uid: UUID) -> HttpResponse:
    """It is offered again."""
    row = equipment_to_set_up(request, uid)
    return _done(request, row, use_again, _("%(name)s is in use again."))


def _done(request: HttpRequest, row: Equipment, service: Callable[..., object], said: str) -> HttpResponse:
    try:
        service(actor=person_of(request), equipment=row)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, said % {"name": row.name})
    return redirect("change-equipment", uid=row.uid)
