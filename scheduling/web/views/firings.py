"""A firing: its curve, the program to key in, the loads in it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from scheduling.models import ActualKind, PickUp
from scheduling.selectors.actuals import actuals_of, actuals_seen_by
from scheduling.selectors.firing_cost import borne, firing_cost
from scheduling.selectors.firings import FiringPage, firing_page
from scheduling.selectors.given_logs import LaidLog
from scheduling.selectors.open_space import open_to
from scheduling.selectors.opening import opening_of
from scheduling.services.actuals import Recorded, record_actual, strike_actual
from scheduling.services.reaching import breaks_of
from scheduling.services.recomputing import cautions_of
from scheduling.templatetags.heat import phase_name
from scheduling.web.access import person_of, viewer_for
from scheduling.web.actual_forms import ActualForm
from scheduling.web.calibration_forms import FiringLogForm
from scheduling.web.drawing import marks
from scheduling.web.drawing.firing import HEIGHTS, draw
from scheduling.web.drawing.samples import lines
from scheduling.web.kiln_forms.opening import OpeningForm
from scheduling.web.program_table import keyed, with_tenths
from scheduling.web.recorded import marks_of
from scheduling.wording import amount, now_said, temperature_unit
from studios.errors import LehrbookError
from studios.models import EquipmentKind, Person
from studios.selectors import may
from studios.thermal.moments import TOUCH_C

# Gardon & Narayanaswamy, J. Am. Ceram. Soc. 53 (1970) 380: sheet cooled at a steady rate keeps more than the
# classical formula says; the classical figure is about this share of it.
CLASSICAL_SHARE = 0.6


@login_required
@require_safe
def firing(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One run of a kiln or annealer, door closed to door open."""
    return shown(request, page_of(request, uid))


@login_required
@require_POST
def record(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What happened is recorded, and the firing is worked out anew."""
    page = page_of(request, uid)
    form = ActualForm(request.POST, studio=page.firing.equipment.studio)
    what = form.what() if form.is_valid() else None
    if what is not None:
        try:
            recorded = record_actual(actor=person_of(request), firing=page.firing, **what)
        except LehrbookError as error:
            form.refuse(error)
        else:
            done = _("%(what)s: recorded.") % {"what": recorded.actual.get_kind_display().capitalize()}
            _say(request, done, recorded)
            return redirect("firing", uid=uid)
    return shown(request, page, form=form, status=409)


@login_required
@require_POST
def strike(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What was entered by mistake counts no more."""
    actual = get_object_or_404(actuals_seen_by(person_of(request)), uid=uid)
    try:
        struck = strike_actual(actor=person_of(request), actual=actual)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        done = _("%(what)s: struck.") % {"what": actual.get_kind_display().capitalize()}
        _say(request, done, struck)
    return redirect("firing", uid=actual.firing.uid)


def _say(request: HttpRequest, done: str, recorded: Recorded) -> None:
    messages.success(request, f"{done} {_('The firing is worked out anew.')}")
    for caution in recorded.cautions:
        messages.warning(request, now_said(caution))


def page_of(request: HttpRequest, uid: UUID) -> FiringPage:
    """A firing at one of the person's studios; a stranger's is not found."""
    page = firing_page(uid=uid, person=person_of(request), viewer=viewer_for(request))
    if page is None:
        raise Http404
    return page


def shown(
    request: HttpRequest,
    page: FiringPage,
    *,
    form: ActualForm | None = None,
    log_form: FiringLogForm | None = None,
    log: LaidLog | None = None,
    opening_form: OpeningForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page of a firing, with what was filled in wrongly, or a log laid over it."""
    person, studio = person_of(request), page.firing.equipment.studio
    records = page.stands and may(person, "record-actual", studio)
    recorded = list(actuals_of(page.firing))
    context = {
        "page": page,
        "firing": page.firing,
        "studio": studio,
        "zone": studio.zone,
        "recorded": recorded,
        "pick_ups": PickUp.objects.filter(load__firing=page.firing).select_related(
            "load__session__course", "load__job"
        ),
        "records": records,
        "log": log,
        **_in_units(page),
        **_shared(page),
        **_open_space(person, page, opening_form),
        **(_drawn(page, recorded, log) if page.stands else {}),
        **(_at_the_kiln(person, page, form or ActualForm(studio=studio)) if records else {}),
        **({"log_form": log_form or FiringLogForm(studio=studio)} if records else {}),
        "fits": records and page.body is not None and may(person, "calibrate", studio),
    }
    return render(request, "web/firing.html", context, status=status)


def _shared(page: FiringPage) -> dict[str, Any]:
    """Its loads, and what each bears of a kiln's firing that several share."""
    firing, loads = page.firing, page.loads
    shares = page.stands and len(loads) > 1 and firing.equipment.kind == EquipmentKind.KILN
    cost = firing_cost(firing, loads) if shares else None
    if cost is None:
        return {"loads": [(load, "") for load in loads]}
    studio, each = firing.equipment.studio, borne(cost, loads)
    return {
        "loads": [(load, amount(each[load.pk], studio)) for load in loads],
        "shared": amount(cost, studio),
    }


def _open_space(person: Person, page: FiringPage, form: OpeningForm | None) -> dict[str, Any]:
    """Whether others may add to it now, and what whoever may open it says of that."""
    firing = page.firing
    if not page.stands or firing.equipment.kind != EquipmentKind.KILN:
        return {}
    opening, found = opening_of(person, firing), open_to(person).filter(pk=firing.pk).exists()
    if opening is not None and form is None:
        form = OpeningForm(studio=firing.equipment.studio, opening=opening)
    return {
        "opening": opening,
        "opening_form": form,
        "adds": found,
        "open_now": firing.takes_more_until is not None and firing.takes_more_until > timezone.now(),
        "hindrance": now_said(opening.hindrance.sentence) if opening and opening.hindrance else "",
    }


def _in_units(page: FiringPage) -> dict[str, Any]:
    """The program, and the degrees, in the reader's unit first."""
    unit = str(temperature_unit(page.firing.equipment.studio))
    program = keyed(page.segments, unit)
    return {
        "unit": unit,
        "other": "C" if unit == "F" else "F",
        "program": program,
        "tenths": with_tenths(program),
        "keyed_count": sum(row.line.keyed for row in program),
        "touch_c": TOUCH_C,
        "real_stress_mpa": page.firing.kept_stress_mpa / CLASSICAL_SHARE,
    }


def _drawn(page: FiringPage, recorded: list[Any], log: LaidLog | None) -> dict[str, Any]:
    unit = str(temperature_unit(page.firing.equipment.studio))
    lettered = marks_of(recorded, page.phases)
    drawing = draw(page, unit=unit, marks=lettered, log=log)
    return {
        "marks": lettered,
        "definitions": mark_safe(marks.definitions(HEIGHTS)),  # noqa: S308 - our own drawing
        "drawing": mark_safe(drawing),  # noqa: S308 - escaped there
        "lines": lines(page, log=log, marked=bool(lettered)),
        "legend": _legend(page),
    }


def _at_the_kiln(actor: Person, page: FiringPage, form: ActualForm) -> dict[str, Any]:
    """What whoever stands there records, and what it has come to."""
    return {
        "form": form,
        # Return in the field of the temperature presses the first button.
        "kinds": sorted(ActualKind.choices, key=lambda choice: choice[0] != ActualKind.TEMPERATURE),
        "minds": [now_said(caution) for caution in cautions_of(page.firing)],
        "breaks": breaks_of(actor=actor, firing=page.firing),
    }


def _legend(page: FiringPage) -> list[tuple[SafeString, str]]:
    found = {phase.kind for phase in page.phases}
    return [
        (mark_safe(marks.swatch(kind)), phase_name(kind.value))  # noqa: S308 - our own drawing
        for kind in marks.MARKS
        if kind in found
    ]
