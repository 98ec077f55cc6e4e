"""A piece of equipment with its thermal record; a log fitted to it; and the fit that becomes the record."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from scheduling.models import About
from scheduling.selectors.ahead import HEATED, behaviour_of, held_ahead, link_about, outages_ahead
from scheduling.selectors.calibrations import (
    EquipmentPage,
    equipment_page,
    fits_of,
    foreseen,
    today_at,
)
from scheduling.services.calibrating import accept_fit, fit_log, require_calibrator
from scheduling.web.access import permitted, person_of, viewer_for
from scheduling.web.calibration_forms import AcceptForm, LogForm
from scheduling.web.drawing import logged, marks
from scheduling.web.fit_table import fit_rows, judgements
from scheduling.wording import temperature_unit
from studios.errors import LehrbookError
from studios.models import Calibration, Equipment, Person, Ranges, ThermalRecord
from studios.selectors import may, studios_of
from studios.thermal.units import f_from_c


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def equipment(request: HttpRequest, uid: UUID) -> HttpResponse:
    """How a piece of equipment heats and cools, and since when; a technician fits a log to it here."""
    person = person_of(request)
    page = equipment_page(uid=uid, person=person)
    if page is None:
        raise Http404
    if request.method != "POST":
        return _equipment_shown(request, page, _log_form(page))
    _require_calibrator(person, page.equipment)
    form = LogForm(request.POST, request.FILES, reads=_unit(page.equipment))
    if form.is_valid():
        try:
            found = fit_log(actor=person, equipment=page.equipment, **form.asked())
        except LehrbookError as error:
            form.refuse(error)
        else:
            done = _("%(file)s is fitted. Nothing changes until a fit is accepted.")
            messages.success(request, done % {"file": found.file_name})
            return redirect("calibration", uid=found.uid)
    return _equipment_shown(request, page, form, status=409)


def _unit(equipment: Equipment) -> str:
    return str(temperature_unit(equipment.studio))


def _log_form(page: EquipmentPage) -> LogForm:
    """The room as it is in this season, in the reader's degrees."""
    unit = _unit(page.equipment)
    ambient_c = page.body.ambient_c if page.body else None
    shown = f_from_c(ambient_c) if ambient_c is not None and unit == "F" else ambient_c
    return LogForm(reads=unit, initial={"ambient_c": None if shown is None else round(shown, 2)})


def _equipment_shown(
    request: HttpRequest, page: EquipmentPage, form: LogForm, status: int = 200
) -> HttpResponse:
    equipment, person, unit = page.equipment, person_of(request), _unit(page.equipment)
    context = {
        "page": page,
        "studio": equipment.studio,
        "zone": equipment.studio.zone,
        "unit": unit,
        "other": "C" if unit == "F" else "F",
        "form": form,
        "ahead": held_ahead(equipment, viewer_for(request)),
        "outages": outages_ahead(equipment),
        "behaves": behaviour_of(equipment, page.body) if page.body else None,
        "heated": equipment.kind in HEATED,
        "sets_up": may(person, "set-up-equipment", equipment.studio),
        "link": link_about(equipment, person),
        "about": f"{About.EQUIPMENT.value}:{equipment.uid}",
    }
    return render(request, "web/equipment.html", context, status=status)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def calibration(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What a log says of a piece of equipment; a POST makes one of its fits the record from a day on."""
    row = _calibration(request, uid)
    form = AcceptForm(request.POST if request.method == "POST" else None, calibration=row)
    if request.method != "POST":
        return _calibration_shown(request, row, form)
    if form.is_valid():
        try:
            accepted = accept_fit(actor=person_of(request), calibration=row, **form.asked())
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(request, _accepted(row, accepted.record, len(accepted.moved)))
            return redirect("calibration", uid=uid)
    return _calibration_shown(request, row, form, status=409)


def _calibration(request: HttpRequest, uid: UUID) -> Calibration:
    """One at a studio of the person's; a stranger's is not found, and a student's is not shown."""
    person = person_of(request)
    row = (
        Calibration.objects.filter(uid=uid, equipment__studio__in=studios_of(person))
        .select_related("equipment__studio", "made_by", "record", "accepted_by")
        .first()
    )
    if row is None:
        raise Http404
    _require_calibrator(person, row.equipment)
    return row


def _require_calibrator(person: Person, equipment: Equipment) -> None:
    with permitted():
        require_calibrator(person, equipment)


def _accepted(row: Calibration, record: ThermalRecord, moved: int) -> str:
    done = _("%(equipment)s goes by this record from %(day)s on.") % {
        "equipment": row.equipment,
        "day": record.valid_from,
    }
    if not moved:
        return done
    kept = ngettext(
        "One booked firing keeps its hours; it is listed below.",
        "%(moved)s booked firings keep their hours; they are listed below.",
        moved,
    )
    return f"{done} {kept % {'moved': moved}}"


def _calibration_shown(
    request: HttpRequest, row: Calibration, form: AcceptForm, status: int = 200
) -> HttpResponse:
    studio, unit = row.equipment.studio, _unit(row.equipment)
    context: dict[str, Any] = {
        "calibration": row,
        "equipment": row.equipment,
        "studio": studio,
        "zone": studio.zone,
        "unit": unit,
        "other": "C" if unit == "F" else "F",
        "form": form,
        "fit_names": [(name, Ranges(name).label) for name, _fit in fits_of(row)],
        "present": row.equipment.record_on(today_at(row.equipment)),
        "rows": fit_rows(row, unit),
        "judgements": judgements(row),
        "moved": [(*_heading(found.ranges), found) for found in foreseen(row)],
        "legend": _legend(row),
        "definitions": mark_safe(marks.definitions({})),  # noqa: S308 - our own drawing
        "drawing": mark_safe(logged.draw(row, unit)),  # noqa: S308 - escaped there
    }
    return render(request, "web/calibration.html", context, status=status)


def _heading(ranges: str) -> tuple[str, str]:
    """What stands over the firings that a fit would move, and what that table is called."""
    if ranges == Ranges.ONE:
        return _("By one range"), _("Firings that one range would move")
    return _("By two ranges"), _("Firings that two ranges would move")


def _legend(row: Calibration) -> list[tuple[SafeString, str]]:
    samples = [(_sample("logged"), _("the log"))]
    samples += [
        (_sample(logged.STYLES[name]), _("fitted, %(ranges)s") % {"ranges": Ranges(name).label})
        for name, _fit in fits_of(row)
    ]
    shown = {one["kind"] for one in row.stretches}
    said = {"cooling": _("taken as cooling by itself"), "full-power": _("taken as heating at full power")}
    samples += [
        (mark_safe(marks.swatch(phase)), said[kind])  # noqa: S308 - our own drawing
        for kind, phase in logged.SHOWN_AS.items()
        if kind in shown
    ]
    return samples


def _sample(style: str) -> SafeString:
    line = f'<path class="{style}" d="M1 8H31"/>'
    box = 'class="swatch" viewBox="0 0 32 16" width="32" height="16" aria-hidden="true"'
    return mark_safe(f"<svg {box}>{line}</svg>")  # noqa: S308 - our own drawing
