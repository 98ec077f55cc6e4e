"""The people of a studio, for its manager."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from scheduling.selectors.people import people_of
from scheduling.services.roles import confirm_role, end_role, give_role
from scheduling.web.access import person_of, studio_named
from scheduling.web.account_forms import RoleForm
from studios.errors import LehrbookError
from studios.models import Membership, Studio
from studios.selectors import people_known_at, studios_where

KEEPS = "keep-people"


@login_required
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody with a role at the studios that the person manages; with `?studio=` at that one."""
    studios = list(studios_where(person_of(request), KEEPS))
    named = request.GET.get("studio", "")
    if named:
        studios = [studio for studio in studios if studio.slug == named]
    if not studios:
        raise Http404
    return render(request, "web/people.html", {"found": [_shown(studio) for studio in studios]})


@login_required
@require_POST
def give(request: HttpRequest, slug: str) -> HttpResponse:
    """A further role for somebody."""
    person = person_of(request)
    studio = studio_named(slug, studios_where(person, KEEPS))
    if studio is None:
        raise Http404
    form = RoleForm(request.POST, people=people_known_at(studio))
    if form.is_valid():
        given = form.cleaned_data
        try:
            give_role(actor=person, studio=studio, **given)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(request, f"{given['person'].name} is {given['role']} at {studio.name}.")
            return _back(studio)
    return render(request, "web/people.html", {"found": [_shown(studio, form)]}, status=400)


@login_required
@require_POST
def confirm(request: HttpRequest, key: int) -> HttpResponse:
    """A role that somebody took is no longer new."""
    return _done(request, _row(request, key), confirm_role, "is confirmed as")


@login_required
@require_POST
def end(request: HttpRequest, key: int) -> HttpResponse:
    """Somebody has a role no longer."""
    return _done(request, _row(request, key), end_role, "is no longer")


def _done(request: HttpRequest, row: Membership, service: Callable[..., object], now: str) -> HttpResponse:
    try:
        service(actor=person_of(request), membership=row)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{row.person.name} {now} {row.role} at {row.studio.name}.")
    return _back(row.studio)


def _row(request: HttpRequest, key: int) -> Membership:
    studios = studios_where(person_of(request), KEEPS)
    rows = Membership.objects.select_related("person", "studio")
    return get_object_or_404(rows, pk=key, studio__in=studios)


def _shown(studio: Studio, form: RoleForm | None = None) -> dict[str, object]:
    empty = RoleForm(people=people_known_at(studio), auto_id=f"id_{studio.slug}_%s")
    return {"studio": studio, "people": people_of(studio).people, "form": form or empty}


def _back(studio: Studio) -> HttpResponse:
    response = redirect("people")
    response["Location"] += f"?{urlencode({'studio': studio.slug})}"
    return response
