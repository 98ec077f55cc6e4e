"""The people of a studio, for its manager."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from scheduling.selectors.earlier import VOUCHES, asked_for_at, vouched_at, vouched_where
from scheduling.selectors.people import people_of
from scheduling.services.earlier import take_back, vouch
from scheduling.services.roles import confirm_role, end_role, give_role
from scheduling.web.access import person_of, studio_named
from scheduling.web.account_forms import RoleForm
from scheduling.web.keeping_form import VouchForm
from scheduling.wording import say
from studios.errors import LehrbookError
from studios.models import Membership, Person, Role, Studio
from studios.selectors import may, people_known_at, studios_where

KEEPS = "keep-people"


@login_required
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody with a role at the studios that the person manages; with `?studio=` at that one."""
    person = person_of(request)
    studios = list((studios_where(person, KEEPS) | studios_where(person, VOUCHES)).distinct())
    named = request.GET.get("studio", "")
    if named:
        studios = [studio for studio in studios if studio.slug == named]
    if not studios:
        raise Http404
    return render(request, "web/people.html", {"found": [_shown(person, studio) for studio in studios]})


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
            messages.success(
                request,
                say(
                    "{name} is {value} at {studio}.",
                    name=given["person"].name,
                    value=Role(given["role"]).label,
                    studio=studio.name,
                ),
            )
            return _back(studio)
    return render(request, "web/people.html", {"found": [_shown(person, studio, form)]}, status=400)


@login_required
@require_POST
def confirm(request: HttpRequest, key: int) -> HttpResponse:
    """A role that somebody took is no longer new."""
    return _done(request, _row(request, key), confirm_role, say("is confirmed as"))


@login_required
@require_POST
def end(request: HttpRequest, key: int) -> HttpResponse:
    """Somebody has a role no longer."""
    return _done(request, _row(request, key), end_role, say("is no longer"))


def _done(request: HttpRequest, row: Membership, service: Callable[..., object], now: str) -> HttpResponse:
    try:
        service(actor=person_of(request), membership=row)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request,
            say(
                "{person} {now} {role} at {studio}.",
                person=row.person.name,
                now=now,
                role=row.get_role_display(),
                studio=row.studio.name,
            ),
        )
    return _back(row.studio)


def _row(request: HttpRequest, key: int) -> Membership:
    studios = studios_where(person_of(request), KEEPS)
    rows = Membership.objects.select_related("person", "studio")
    return get_object_or_404(rows, pk=key, studio__in=studios)


@login_required
@require_POST
def vouch_for(request: HttpRequest, slug: str) -> HttpResponse:
    """Somebody has taken a course before, here or elsewhere."""
    person = person_of(request)
    studio = studio_named(slug, studios_where(person, VOUCHES))
    if studio is None:
        raise Http404
    form = _vouch_form(studio, request.POST)
    if form.is_valid():
        try:
            row = vouch(actor=person, studio=studio, **form.cleaned_data)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request,
                say("{person} has taken {course} before.", person=row.person.name, course=row.course.name),
            )
            return _back(studio)
    return render(request, "web/people.html", {"found": [_shown(person, studio, vouching=form)]}, status=400)


@login_required
@require_POST
def take_back_vouched(request: HttpRequest, key: int) -> HttpResponse:
    """It counts no longer."""
    person = person_of(request)
    row = get_object_or_404(vouched_where(person), pk=key)
    try:
        take_back(actor=person, earlier=row)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request,
            say(
                "{course} no longer counts as taken by {person}.",
                course=row.course.name,
                person=row.person.name,
            ),
        )
    return redirect("people")


def _shown(
    person: Person, studio: Studio, form: RoleForm | None = None, vouching: VouchForm | None = None
) -> dict[str, object]:
    """A studio's people for who keeps them, and its earlier courses for who vouches."""
    empty = RoleForm(people=people_known_at(studio), auto_id=f"id_{studio.slug}_%s")
    found: dict[str, object] = {"studio": studio, "keeps": may(person, KEEPS, studio)}
    if found["keeps"]:
        found |= {"people": people_of(studio).people, "form": form or empty}
    if may(person, VOUCHES, studio) and asked_for_at(studio).exists():
        found |= {"vouched": vouched_at(studio), "vouching": vouching or _vouch_form(studio)}
    return found


def _vouch_form(studio: Studio, given: QueryDict | None = None) -> VouchForm:
    return VouchForm(
        given,
        people=people_known_at(studio),
        courses=asked_for_at(studio),
        auto_id=f"id_vouch_{studio.slug}_%s",
    )


def _back(studio: Studio) -> HttpResponse:
    response = redirect("people")
    response["Location"] += f"?{urlencode({'studio': studio.slug})}"
    return response
