"""Supplies of a studio, and the glasses of the network."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.selectors.set_up import EQUIPS
from scheduling.services.set_up.glasses import add_family, add_glass, change_glass
from scheduling.services.set_up.supplies import drop_supply, keep_supply
from scheduling.web.access import person_of
from scheduling.web.setup_forms.supplies import USUAL, GlassForm, SupplyForm
from scheduling.web.setup_words import SUPPLY_CAUTIONS
from scheduling.web.views.setup.common import carried_out, form_page, require, sent, studio_to_set_up
from studios.errors import LehrbookError
from studios.models import GlassType, Studio, Supply, SupplyKind
from studios.selectors import studios_of
from studios.thermal import FAMILIES


@login_required
@require_safe
def supplies(request: HttpRequest, slug: str) -> HttpResponse:
    """What several pieces of equipment draw at once, and what draws on each."""
    studio = studio_to_set_up(request, slug, EQUIPS)
    rows = studio.supplies.prefetch_related("draws__equipment", "equipment_in_it")
    return render(request, "web/setup/supplies.html", {"studio": studio, "rows": rows, "kinds": SupplyKind})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest, slug: str, kind: str) -> HttpResponse:
    """One more supply, in the words of its kind."""
    studio = studio_to_set_up(request, slug, EQUIPS)
    if kind not in SupplyKind.values:
        raise Http404
    return _supply(request, studio, Supply(studio=studio, kind=kind), _("New: %(kind)s"))


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def supply(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One of them, changed; with a smaller limit what is booked keeps its share."""
    row = _row(request, uid)
    return _supply(request, row.studio, row, "%(name)s")


def _row(request: HttpRequest, uid: UUID) -> Supply:
    rows = Supply.objects.filter(studio__in=studios_of(person_of(request))).select_related("studio")
    row = get_object_or_404(rows, uid=uid)
    require(request, EQUIPS, row.studio)
    return row


def _supply(request: HttpRequest, studio: Studio, row: Supply, title: str) -> HttpResponse:
    title %= {"kind": SupplyKind(row.kind).label, "name": row.name}
    form = SupplyForm(sent(request), instance=row, studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(lambda: keep_supply(actor=actor, supply=form.instance), form):
        messages.success(request, _("%(name)s is kept. What is booked keeps its share.") % {"name": row.name})
        return redirect("set-up-supplies", slug=studio.slug)
    return form_page(
        request,
        studio,
        [form],
        title=title,
        lead=_("Equipment says in its own set-up how much it draws. What is booked already keeps its share."),
        button=_("Keep it"),
        back=(reverse("set-up-supplies", args=[studio.slug]), _("Supplies")),
        caution=SUPPLY_CAUTIONS[SupplyKind(row.kind)],
    )


@login_required
@require_POST
def drop(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A supply on which nothing draws goes off the book."""
    row = _row(request, uid)
    try:
        drop_supply(actor=person_of(request), supply=row)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("%(name)s is off the book.") % {"name": row.name})
    return redirect("set-up-supplies", slug=row.studio.slug)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def glasses(request: HttpRequest, slug: str) -> HttpResponse:
    """All glasses of the network; a further one by its data sheet, or by its family."""
    studio = studio_to_set_up(request, slug)
    form = GlassForm(sent(request), instance=GlassType(), studio=studio, initial=USUAL)
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: add_glass(actor=actor, studio=studio, glass=form.instance), form
    ):
        messages.success(request, _("%(name)s is here, for every studio.") % {"name": form.instance.name})
        return redirect("set-up-glasses", slug=slug)
    rows = list(GlassType.objects.all())
    here = {row.slug for row in rows} | {row.name for row in rows}
    families = [
        (key, family.glass.name) for key, family in FAMILIES.items() if not {key, family.glass.name} & here
    ]
    context = {"studio": studio, "rows": rows, "families": families, "form": form}
    return render(request, "web/setup/glasses.html", context, status=400 if form.errors else 200)


@login_required
@require_POST
def family(request: HttpRequest, slug: str) -> HttpResponse:
    """A family of glass, where no data sheet is at hand."""
    studio, key = studio_to_set_up(request, slug), request.POST.get("family", "")
    if key not in FAMILIES:
        raise Http404
    try:
        glass = add_family(actor=person_of(request), studio=studio, family=key)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("%(name)s is here, for every studio.") % {"name": glass.name})
    return redirect("set-up-glasses", slug=slug)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def glass(request: HttpRequest, slug: str, name: str) -> HttpResponse:
    """The values of a glass, as long as nothing was booked in it."""
    studio = studio_to_set_up(request, slug)
    row = get_object_or_404(GlassType, slug=name)
    form = GlassForm(sent(request), instance=row, studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: change_glass(actor=actor, studio=studio, glass=form.instance), form
    ):
        messages.success(request, _("%(name)s is kept.") % {"name": row.name})
        return redirect("set-up-glasses", slug=slug)
    return form_page(
        request,
        studio,
        [form],
        title=GlassType.objects.get(pk=row.pk).name,
        lead=_(
            "Every studio of the network goes by these values. Once pieces are booked in a glass they stay "
            "as they are: their firings were worked out from them."
        ),
        button=_("Keep it"),
        back=(reverse("set-up-glasses", args=[slug]), _("Glasses")),
    )
