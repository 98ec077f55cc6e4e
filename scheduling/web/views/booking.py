"""Booking a class: a wish goes in, starts that really work come out, one is booked."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_http_methods

from scheduling.engine.openings import Change
from scheduling.errors import InvalidInput
from scheduling.selectors.offers import ORDERS, best_starts
from scheduling.selectors.options import OpeningLine, Option, Refused, wishes
from scheduling.services.booking import book_session
from scheduling.web.access import person_of
from scheduling.web.forms import ClassForm, today_at
from scheduling.web.lists import zones_of
from studios.errors import LehrbookError
from studios.models import Person, Studio
from studios.permissions import ACTIONS
from studios.selectors import studios_of

MOST_OFFERS = 62
# What a person would have to do first; a course is set up in the admin.
TO_CHANGE = {
    Change.THICKNESS.value: "That takes a course of thinner pieces.",
    Change.LENGTH.value: "That takes a shorter course.",
    Change.TORCHES.value: "That takes a course with fewer torches.",
}


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def book(request: HttpRequest) -> HttpResponse:
    """The wish is in the address, so it can be kept; one of its starts is booked by a POST to the same."""
    person = person_of(request)
    studios = bookable_studios(person)
    if not studios.exists():
        raise PermissionDenied("Classes are booked by instructors and managers; ask the studio's manager.")
    form = _form(request, person, studios)
    if request.method == "POST":
        try:
            return _booked(request, person, form)
        except LehrbookError as error:
            form.refuse(error)
            return render(request, "web/book.html", {"form": form, "refused_now": True}, status=409)
    return render(request, "web/book.html", {"form": form, **_found(form)})


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


def _form(request: HttpRequest, person: Person, studios: QuerySet[Studio]) -> ClassForm:
    instructors = instructors_for(person, studios)
    if "course" in request.GET or request.method == "POST":
        return ClassForm(request.GET, studios=studios, instructors=instructors)
    first = today_at(studios[0]) + dt.timedelta(days=1)
    start = {
        "studios": [studio.slug for studio in studios],
        "instructor": person.uid,
        "first_day": first,
        "last_day": first + dt.timedelta(days=6),
        "time": dt.time(18),
    }
    return ClassForm(initial=start, studios=studios, instructors=instructors)


def _found(form: ClassForm) -> dict[str, object]:
    """Every start that works first, the best first, then the days that do not with what would open them."""
    if not form.is_bound or not form.is_valid():
        return {}
    given = form.cleaned_data
    studios = form.teaching_studios()
    order = given.pop("order")
    wish = {**given, "studios": studios}
    try:
        answers = wishes(**wish)
        offers = best_starts(**wish, order=ORDERS[order], most=MOST_OFFERS) if order else []
    except LehrbookError as error:
        form.refuse(error)
        return {}
    # One answer for each day and studio, in the order of the days.
    days = [given["first_day"] + dt.timedelta(days=n // len(studios)) for n in range(len(answers))]
    dated = list(zip(days, answers, strict=True))
    works = [answer for answer in answers if isinstance(answer, Option)]
    return {
        "asked": True,
        "order": ORDERS[order].value if order else "",
        "starts": [(each.option, each.words) for each in offers] if order else [(one, "") for one in works],
        "refusals": _alike([(day, answer) for day, answer in dated if isinstance(answer, Refused)]),
        "time": given["time"],
        "zones": zones_of(given["studios"]),
    }


def _alike(refusals: list[tuple[dt.date, Refused]]) -> list[dict[str, object]]:
    """Days refused at one studio for the same reasons, with nothing to open them, stand together."""
    groups: dict[tuple[object, ...], list[tuple[dt.date, Refused]]] = {}
    for day, one in refusals:
        sentences = tuple(reason.sentence for reason in one.reasons)
        apart = day if one.openings else None
        groups.setdefault((one.studio.pk, sentences, apart), []).append((day, one))
    return [
        {
            "studio": alike[0][1].studio,
            "starts": [(day, one.starts_at) for day, one in alike],
            "sentences": [reason.sentence for reason in alike[0][1].reasons],
            "openings": [_opening(line) for line in alike[0][1].openings],
        }
        for alike in groups.values()
    ]


def _opening(line: OpeningLine) -> dict[str, object]:
    """A change of time or studio is booked as it stands; for any other it is said what has to be changed."""
    return {"sentence": line.sentence, "option": line.option, "to_change": TO_CHANGE.get(line.change, "")}


def _booked(request: HttpRequest, person: Person, form: ClassForm) -> HttpResponse:
    if not form.is_bound or not form.is_valid():
        raise InvalidInput(problem="The wish could not be read any more; ask again.")
    session = book_session(
        actor=person,
        course=form.cleaned_data["course"],
        studio=_chosen_studio(request, form),
        instructor=form.cleaned_data["instructor"],
        starts_at=chosen_start(request),
    )
    messages.success(request, f"{session.course} is booked.")
    return redirect("session", uid=session.uid)


def _chosen_studio(request: HttpRequest, form: ClassForm) -> Studio:
    slug = request.POST.get("studio", "")
    for studio in form.cleaned_data["studios"]:
        if studio.slug == slug:
            return studio
    raise InvalidInput(field="studios", problem="Choose one of the studios asked for.")


def chosen_start(request: HttpRequest) -> dt.datetime:
    """The start behind the button that was pressed. Raises InvalidInput."""
    try:
        starts_at = parse_datetime(request.POST.get("starts_at", ""))
    except ValueError:
        starts_at = None
    if starts_at is None or starts_at.tzinfo is None:
        raise InvalidInput(problem="The start could not be read; choose one of those shown.")
    return starts_at
