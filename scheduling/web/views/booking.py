"""Booking a class: a wish goes in, starts that really work come out, one is booked."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from scheduling.errors import InvalidInput
from scheduling.selectors.last_class import ways_between
from scheduling.selectors.offers import ORDERS, best_starts
from scheduling.selectors.options import wishes
from scheduling.services.booking import book_session
from scheduling.web.access import person_of
from scheduling.web.answers import alike, cut, day_by_day, ranked, without_any_start
from scheduling.web.forms import ClassForm
from scheduling.web.lists import zones_of
from scheduling.web.ranks import ORDERS_SAID
from scheduling.web.shown import legend, paints
from scheduling.web.wishes import class_wish
from studios.errors import LehrbookError
from studios.models import Person, Studio
from studios.permissions import ACTIONS
from studios.selectors import studios_of

MOST_OFFERS = 62


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def book(request: HttpRequest) -> HttpResponse:
    """The wish is in the address, so it can be kept; one of its starts is booked by a POST to the same."""
    person = person_of(request)
    studios = bookable_studios(person)
    if not studios.exists():
        raise PermissionDenied(_("Classes are booked by instructors and managers; ask the studio's manager."))
    asked = request.method == "POST"
    wish = request.GET if asked else class_wish(request.GET, person, list(studios))
    form = _form(wish, person, studios, asked=asked)
    shared = {"form": form, "wish": wish, "paints": paints()}
    if request.method == "POST":
        try:
            return _booked(request, person, form)
        except LehrbookError as error:
            form.refuse(error)
            return render(request, "web/book.html", {**shared, "refused_now": True}, status=409)
    return render(request, "web/book.html", {**shared, **_found(form)})


def bookable_studios(person: Person) -> QuerySet[Studio]:
    """The studios where the person may book a class."""
    if person.is_superuser:
        return studios_of(person)
    may_book = Q(memberships__person=person, memberships__role__in=ACTIONS["book"])
    return Studio.objects.filter(may_book).distinct()


def instructors_for(person: Person, studios: QuerySet[Studio]) -> QuerySet[Person]:
    """Oneself, and where one may book for others all who teach there."""
    managed = studios
    if not person.is_superuser:
        managed = studios.filter(
            pk__in=person.memberships.filter(role__in=ACTIONS["book-for-others"]).values("studio_id")
        )
    teaching = Q(memberships__role__in=ACTIONS["teach"])
    others = Person.objects.filter(teaching, memberships__studio__in=managed, is_active=True)
    own = Person.objects.filter(teaching, pk=person.pk)
    return (others | own).distinct()


def _form(wish: QueryDict, person: Person, studios: QuerySet[Studio], *, asked: bool) -> ClassForm:
    """Asked where a course is named; else only filled in."""
    instructors = instructors_for(person, studios)
    if asked or "course" in wish:
        return ClassForm(wish, studios=studios, instructors=instructors)
    start = {**wish.dict(), "studios": wish.getlist("studios")}
    return ClassForm(initial=start, studios=studios, instructors=instructors)


def _found(form: ClassForm) -> dict[str, object]:
    """Every start that works first, the best first, then the days that do not with what would open them."""
    if not form.is_bound or not form.is_valid():
        return {}
    given = form.cleaned_data
    studios = form.teaching_studios()
    order = ORDERS.get(given.pop("order"))
    wish = {**given, "studios": studios}
    try:
        answers = wishes(**wish)
        offers = best_starts(**wish, order=order, most=MOST_OFFERS) if order else []
    except LehrbookError as error:
        form.refuse(error)
        return {}
    # One answer for each day and studio, in the order of the days.
    days = [given["first_day"] + dt.timedelta(days=n // len(studios)) for n in range(len(answers))]
    dated = list(zip(days, answers, strict=True))
    places = ranked(offers, order) if order else day_by_day(dated, given["time"])
    return {
        "asked": True,
        "order": ORDERS_SAID[order] if order else "",
        "places": cut(places),
        "starts": sum(len(place.starts) for place in places),
        "legend": legend(start for place in places for start in place.starts),
        "refusals": cut(alike(dated if order else without_any_start(dated))),
        "time": given["time"],
        "zones": zones_of(given["studios"]),
        "between": ways_between(given["studios"]),
        "elsewhere": [studio for studio in given["studios"] if studio not in studios],
    }


def _booked(request: HttpRequest, person: Person, form: ClassForm) -> HttpResponse:
    if not form.is_bound or not form.is_valid():
        raise InvalidInput(problem=_("The wish could not be read any more; ask again."))
    session = book_session(
        actor=person,
        course=form.cleaned_data["course"],
        studio=_chosen_studio(request, form),
        instructor=form.cleaned_data["instructor"],
        starts_at=chosen_start(request),
    )
    messages.success(request, _("%(course)s is booked.") % {"course": session.course})
    return redirect("session", uid=session.uid)


def _chosen_studio(request: HttpRequest, form: ClassForm) -> Studio:
    slug = request.POST.get("studio", "")
    for studio in form.cleaned_data["studios"]:
        if studio.slug == slug:
            return studio
    raise InvalidInput(field="studios", problem=_("Choose one of the studios asked for."))


def chosen_start(request: HttpRequest) -> dt.datetime:
    """The start behind the button that was pressed. Raises InvalidInput."""
    try:
        starts_at = parse_datetime(request.POST.get("starts_at", ""))
    except ValueError:
        starts_at = None
    if starts_at is None or starts_at.tzinfo is None:
        raise InvalidInput(problem=_("The start could not be read; choose one of those shown."))
    return starts_at
