"""Pick-up: what is to be unloaded, what lies on the shelves, what nobody has come for."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.selectors.pick_up import (
    collections_seen_by,
    firings_handed_out_by,
    shelves_named_at,
    shelves_of,
)
from scheduling.selectors.pieces_collected import pieces_collected
from scheduling.services import pick_up as services
from scheduling.web.access import person_of
from scheduling.web.actual_forms import ShelvesForm
from scheduling.wording import now_said
from studios.errors import LehrbookError


@login_required
@require_safe
def pick_up(request: HttpRequest) -> HttpResponse:
    """By studio, for whoever hands pieces out there."""
    found = shelves_of(person_of(request))
    if not found:
        raise PermissionDenied(
            _("Pieces are handed out by whoever works at a studio; yours are in My seats.")
        )
    every = [one for at in found for one in (*at.waiting, *at.uncollected, *at.collected)]
    return render(request, "web/pick_up.html", {"shelves": found, "labels": pieces_collected(every)})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def unload(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A firing is taken out, and each load gets its shelf."""
    person = person_of(request)
    firing = get_object_or_404(firings_handed_out_by(person), uid=uid)
    form = ShelvesForm(request.POST if request.method == "POST" else None, firing=firing)
    if request.method == "POST" and form.is_valid():
        try:
            recorded = services.unload(actor=person, firing=firing, shelves=form.shelves(), at=form.at())
        except LehrbookError as error:
            form.refuse(error)
        else:
            said = {"what": firing.equipment.name}
            messages.success(request, _("%(what)s is unloaded; whoever made the pieces is told.") % said)
            for caution in recorded.cautions if recorded else ():
                messages.warning(request, now_said(caution))
            return redirect("pick-up")
    studio = firing.equipment.studio
    context = {
        "firing": firing,
        "form": form,
        "studio": studio,
        "zone": studio.zone,
        "known_shelves": shelves_named_at(studio),
        "too_early": firing.cool_at > timezone.now(),
    }
    return render(request, "web/unload.html", context, status=409 if form.errors else 200)


@login_required
@require_POST
def collected(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Somebody's pieces are handed over, or were not after all."""
    person = person_of(request)
    collection = get_object_or_404(collections_seen_by(person), uid=uid)
    handed = request.POST.get("collected") != "no"
    try:
        services.mark_collected(
            actor=person,
            collection=collection,
            collected=handed,
            signed_by=request.POST.get("signed_by", ""),
        )
    except LehrbookError as error:
        messages.error(request, str(error))
        return redirect("my-seats" if collection.person == person else "pick-up")
    said = _("The pieces of %(who)s are collected.") if handed else _("The pieces of %(who)s are back.")
    messages.success(request, said % {"who": collection.person.name})
    return redirect("pick-up")
