"""A session's page, its seats, and calling it off."""

from __future__ import annotations

from itertools import groupby
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from scheduling.errors import KeptTooOften
from scheduling.models import Seat
from scheduling.selectors.safety import day_at, to_acknowledge
from scheduling.selectors.sessions import HeldEquipment, SessionPage, session_page
from scheduling.services.cancelling import cancel_series, cancel_session
from scheduling.services.keeping import keep_seat
from scheduling.services.seats import reserve_class_seat
from scheduling.web.access import person_of, viewer_for
from scheduling.web.forms import SeatForm
from studios.errors import LehrbookError
from studios.models import Equipment, Person, SafetyText
from studios.selectors import may, people_with


@login_required
@require_safe
def session(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What one meeting of a course holds, who sits in it, and what it leads to."""
    page = _page(request, uid)
    return _shown(request, page, _seat_form(request, page))


@login_required
@require_POST
def keep(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A seat for oneself is kept, and its form follows."""
    page = _page(request, uid)
    form = _own_form(page, request.POST)
    if form.is_valid():
        try:
            seat = keep_seat(
                actor=person_of(request), session=page.session, torch=form.cleaned_data.get("torch")
            )
        except KeptTooOften as error:
            form.refuse(error)
            form.at_once = True
        except LehrbookError as error:
            form.refuse(error)
        else:
            return redirect("kept-seat", uid=seat.uid)
    return _shown(request, page, _seat_form(request, page), status=409, for_oneself=form)


@login_required
@require_POST
def take_seat(request: HttpRequest, uid: UUID) -> HttpResponse:
    """A seat for oneself, or for somebody else where one may."""
    page = _page(request, uid)
    form = _seat_form(request, page, bound=True)
    if form.is_valid():
        try:
            seat = reserve_class_seat(
                actor=person_of(request),
                session=page.session,
                **form.cleaned_data,
            )
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(request, _taken(seat))
            return redirect("session", uid=uid)
    if "person" in form.errors or "person" in request.POST:
        return _shown(request, page, form, status=409)
    return _shown(request, page, _seat_form(request, page), status=409, for_oneself=form)


@login_required
@require_POST
def call_off(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The class does not take place; what it held is free again."""
    page = _page(request, uid)
    try:
        cancel_session(actor=person_of(request), session=page.session)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request,
            _("%(course)s is called off; what it held is free again.") % {"course": page.session.course},
        )
    return redirect("session", uid=uid)


@login_required
@require_POST
def call_off_series(request: HttpRequest, uid: UUID) -> HttpResponse:
    """None of the meetings to come of a weekly class takes place; this one is one of its meetings."""
    page = _page(request, uid)
    if page.session.series is None:
        raise Http404
    try:
        cancel_series(actor=person_of(request), series=page.session.series)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _called_off(page))
    return redirect("session", uid=uid)


def _taken(seat: Seat) -> str:
    facts = {"number": seat.number, "torch": seat.torch, "who": seat.person}
    if seat.torch:
        return _("Seat %(number)s, %(torch)s, is taken for %(who)s.") % facts
    return _("Seat %(number)s is taken for %(who)s.") % facts


def _called_off(page: SessionPage) -> str:
    gone = len(page.to_come)
    said = ngettext(
        "%(course)s: %(gone)s meeting to come called off.",
        "%(course)s: %(gone)s meetings to come called off.",
        gone,
    )
    return said % {"course": page.session.course, "gone": gone}


def _page(request: HttpRequest, uid: UUID) -> SessionPage:
    page = session_page(uid=uid, person=person_of(request), viewer=viewer_for(request))
    if page is None:
        raise Http404
    return page


def _seat_form(request: HttpRequest, page: SessionPage, *, bound: bool = False) -> SeatForm:
    torches = Equipment.objects.filter(pk__in=[torch.pk for torch in page.free_torches]).order_by("number")
    others = Person.objects.none()
    if may(person_of(request), "reserve-for-others", page.session.studio):
        seated = [seat.person_id for seat in page.seats]
        others = people_with("reserve", page.session.studio).exclude(
            pk__in=[page.session.instructor_id, *(one.pk for one in page.assistants), *seated]
        )
    # Whoever was asked for whom says so; a form without that choice is for oneself.
    asked = page.teaches(person_of(request)) or "person" in request.POST or not bound
    return SeatForm(request.POST if bound else None, torches=torches, people=others, teaches=asked)


def _own_form(page: SessionPage, given: QueryDict | None = None) -> SeatForm:
    torches = Equipment.objects.filter(pk__in=[torch.pk for torch in page.free_torches]).order_by("number")
    return SeatForm(given, torches=torches, people=Person.objects.none(), auto_id="id_own_%s")


def _to_read(person: Person, page: SessionPage) -> SafetyText | None:
    session = page.session
    return to_acknowledge(person=person, studio=session.studio, day=day_at(session.studio, session.starts_at))


def _shown(
    request: HttpRequest,
    page: SessionPage,
    form: SeatForm,
    status: int = 200,
    for_oneself: SeatForm | None = None,
) -> HttpResponse:
    person, studio = person_of(request), page.session.studio
    own = page.session.instructor_id == person.pk
    may_cancel = (own and may(person, "book", studio)) or may(person, "book-for-others", studio)
    context = {
        "page": page,
        "session": page.session,
        "studio": studio,
        "zone": studio.zone,
        "seat_form": form,
        "own_form": for_oneself or _own_form(page),
        "text": _to_read(person, page) if for_oneself and for_oneself.at_once else None,
        "lines": _lines(page),
        "teaches": page.teaches(person),
        "may_free": may(person, "reserve-for-others", studio),
        "may_call_off": page.open and may_cancel,
        "may_call_off_series": bool(page.to_come) and may_cancel,
    }
    return render(request, "web/session.html", context, status=status)


def _lines(page: SessionPage) -> list[dict[str, object]]:
    """What is held, alike pieces of equipment in one line: Torch 1, Torch 2, Torch 3."""
    alike = groupby(page.held, key=lambda one: (one.equipment.kind, one.held.span, one.held.phases))
    groups = [list(group) for _key, group in alike]
    return [{"names": ", ".join(_name(one) for one in group), "held": group[0].held} for group in groups]


def _name(one: HeldEquipment) -> str:
    if one.equipment.places == 1:
        return one.equipment.name
    return _("%(equipment)s, place %(place)s") % {"equipment": one.equipment.name, "place": one.held.place}
