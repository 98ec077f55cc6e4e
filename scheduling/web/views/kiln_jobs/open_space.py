"""Open shelf space: what firings have room, and adding own pieces to one of them."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.models import Firing
from scheduling.selectors.firing_cost import firing_cost
from scheduling.selectors.open_space import OpenFiring, open_firing, open_firings
from scheduling.selectors.opening import opening_of
from scheduling.selectors.taught import classes_lately
from scheduling.selectors.visible import firings_of
from scheduling.services.offered_space import offer, withdraw
from scheduling.services.open_shelves import add_pieces
from scheduling.web.access import person_of
from scheduling.web.drawing.shelves import Standing
from scheduling.web.kiln_back import back_from
from scheduling.web.kiln_forms.add import AddForm
from scheduling.web.kiln_forms.opening import OpeningForm
from scheduling.web.kiln_forms.sizes import SizeForm, size_forms
from scheduling.web.kiln_shelves import ShelfShown, Stood, shelves_of
from scheduling.web.lists import zones_of
from scheduling.web.views.firings import page_of, shown
from scheduling.web.views.kiln_jobs.asking import ANOTHER, rows_for
from scheduling.wording import amount
from studios.errors import LehrbookError
from studios.models import GlassType, Studio
from studios.selectors import studios_of


@login_required
@require_safe
def open_space(request: HttpRequest) -> HttpResponse:
    """The firings that have room, the next first."""
    person = person_of(request)
    context = {"firings": open_firings(person), "zones": zones_of(studios_of(person))}
    return render(request, "web/open_space.html", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Own pieces beside those that stand there: booked at once, as a kiln job of that one firing."""
    person = person_of(request)
    found = open_firing(person, uid)
    if found is None:
        raise Http404
    form, sizes = _forms(request, found)
    if request.method == "POST" and ANOTHER not in request.POST and _well(form, sizes):
        asked = [size for row in sizes if (size := row.asked()) is not None]
        try:
            job = add_pieces(actor=person, firing=found.firing, sizes=asked, **form.cleaned_data)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(request, _("Your pieces are in that firing; each has its label."))
            return redirect("kiln-jobs-job", uid=job.uid)
    return _page(request, found, form, sizes)


def _well(form: AddForm, sizes: list[SizeForm]) -> bool:
    well = [each.is_valid() for each in (form, *sizes)]  # each is asked, so that all errors are shown
    return all(well)


def _forms(request: HttpRequest, found: OpenFiring) -> tuple[AddForm, list[SizeForm]]:
    studio = found.firing.equipment.studio
    data = request.POST if request.method == "POST" else None
    more = data is not None and ANOTHER in data
    facts: dict[str, Any] = {
        "studio": studio,
        "glasses": GlassType.objects.order_by("name"),
        "classes": classes_lately(person_of(request), studio),
        "found": found,
    }
    form = AddForm.unchecked(data, **facts) if data is not None and more else AddForm(data, **facts)
    rows = rows_for(person_of(request), Studio.objects.filter(pk=studio.pk))
    return form, size_forms(data, checked=not more, **rows)


def _page(request: HttpRequest, found: OpenFiring, form: AddForm, sizes: list[SizeForm]) -> HttpResponse:
    kiln = found.firing.equipment
    wrong = form.wrong or any(row.errors for row in sizes)
    context = {
        "found": found,
        "firing": found.firing,
        "studio": kiln.studio,
        "zone": kiln.studio.zone,
        "form": form,
        "sizes": sizes,
        "another": ANOTHER,
        "shelves": _shelves(found),
        **_costs(found),
    }
    return render(request, "web/add_pieces.html", context, status=400 if wrong else 200)


def _costs(found: OpenFiring) -> dict[str, str]:
    """What the firing costs as it is, and what the wash of a further shelf adds."""
    studio, wash = found.firing.equipment.studio, found.wash_price
    cost = firing_cost(found.firing, list(found.firing.loads.all()))
    prices = {"cost": cost, "wash": wash}
    return {name: amount(price, studio) for name, price in prices.items() if price is not None}


def _shelves(found: OpenFiring) -> list[ShelfShown]:
    """What stands there already; whose it is is nobody's business."""
    stood = (
        Stood(
            level=stand.level or 1,
            at=Standing(
                number="",
                x_mm=stand.x_mm or 0,
                y_mm=stand.y_mm or 0,
                length_mm=stand.length_mm or 0,
                width_mm=stand.width_mm or 0,
                round=stand.round,
                other=True,
            ),
        )
        for stand in found.stands
    )
    return shelves_of(found.firing.equipment, stood)


@login_required
@require_POST
def offer_space(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What is left on the shelves of a firing is opened to others, or not any more."""
    firing = get_object_or_404(firings_of(person_of(request)), uid=uid)
    _open_or_close(request, firing)
    return redirect(back_from(request))


def _open_or_close(request: HttpRequest, firing: Firing) -> None:
    opens = request.POST.get("open") != "no"
    service = offer if opens else withdraw
    try:
        service(actor=person_of(request), firing=firing)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        opened = _("Others may add pieces to it until its loading begins.")
        messages.success(request, opened if opens else _("Nobody adds anything more to it."))


@login_required
@require_POST
def open_class(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A class's firing is opened to others, opened otherwise, or closed again."""
    person, page = person_of(request), page_of(request, uid)
    opening = opening_of(person, page.firing)
    if request.POST.get("open") == "no" or opening is None or opening.keeping is None:
        _open_or_close(request, page.firing)
        return redirect("firing", uid=uid)
    form = OpeningForm(request.POST, studio=page.firing.equipment.studio, opening=opening)
    asked = form.asked() if form.is_valid() else None
    if asked is None:
        return shown(request, page, opening_form=form, status=400)
    try:
        offer(actor=person, firing=page.firing, **asked)
    except LehrbookError as error:
        form.refuse(error)
        return shown(request, page, opening_form=form, status=409)
    messages.success(request, _("Others may add pieces above the shelves of the class."))
    return redirect("firing", uid=uid)
