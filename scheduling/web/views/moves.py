"""Moving a class: where it could go, what it would hold there, and who could not come."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from scheduling.engine.openings import Change
from scheduling.models import Session
from scheduling.selectors import visible
from scheduling.selectors.options import Option, Refused
from scheduling.services.moving import may_move, move_session
from scheduling.services.rehearsing import Rehearsal, rehearse_move
from scheduling.web.access import person_of
from scheduling.web.answers import opening
from scheduling.web.change_forms import MoveForm
from scheduling.web.shown import legend, paints, shown
from scheduling.web.views.booking import chosen_start
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Person
from studios.selectors import may, people_with


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def move(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The time asked for is in the address; a POST to the same moves the class to one that was found."""
    person = person_of(request)
    session = visible.sessions_of(person).filter(uid=uid).first()
    if session is None:
        raise Http404
    if not may_move(person, session):
        raise PermissionDenied(_("A class is moved by whoever teaches it, or by the studio's manager."))
    asked = "day" in request.GET
    form = MoveForm(
        _wish(request, session) if asked else None, session=session, instructors=_others(person, session)
    )
    if request.method == "POST":
        return _moved(request, session, form)
    found = _rehearsed(person, session, form) if asked and form.is_valid() else None
    return _shown(request, session, form, found)


def _wish(request: HttpRequest, session: Session) -> QueryDict:
    """What was asked for; where nobody is named, whoever teaches it goes on to."""
    wish = request.GET.copy()
    wish.setdefault("instructor", str(session.instructor.uid))
    return wish


def _others(person: Person, session: Session) -> QuerySet[Person]:
    """Whom it may be given to, besides whoever teaches it."""
    if not may(person, "book-for-others", session.studio):
        return Person.objects.none()
    teaching = Q(pk__in=people_with("teach", session.studio).values("pk")) | Q(pk=session.instructor_id)
    return Person.objects.filter(teaching).order_by("name", "pk")


def _rehearsed(person: Person, session: Session, form: MoveForm) -> Rehearsal | None:
    starts_at = form.at("day", "time")
    if starts_at is None:
        return None
    try:
        teacher = form.cleaned_data.get("instructor")
        return rehearse_move(actor=person, session=session, starts_at=starts_at, instructor=teacher)
    except LehrbookError as error:
        form.refuse(error)
        return None


def _moved(request: HttpRequest, session: Session, form: MoveForm) -> HttpResponse:
    teacher = form.cleaned_data.get("instructor") if form.is_bound and form.is_valid() else None
    try:
        starts_at = chosen_start(request)
        moved = move_session(
            actor=person_of(request), session=session, starts_at=starts_at, instructor=teacher
        )
    except LehrbookError as error:
        messages.error(request, str(error))
        return _shown(request, _again(session), form, None, status=409)
    said = {"course": moved.course, "time": when(moved.starts_at, moved.studio)}
    messages.success(request, _("%(course)s is now at %(time)s; all it concerns are told.") % said)
    return redirect("session", uid=moved.uid)


def _again(session: Session) -> Session:
    """As it stands: what was refused has changed nothing."""
    session.refresh_from_db()
    return session


def _shown(
    request: HttpRequest, session: Session, form: MoveForm, found: Rehearsal | None, status: int = 200
) -> HttpResponse:
    answer = found.answer if found else None
    start = shown(answer) if isinstance(answer, Option) else None
    refused = answer if isinstance(answer, Refused) else None
    times = [opening(each) for each in refused.openings if each.change == Change.TIME] if refused else []
    context = {
        "session": session,
        "studio": session.studio,
        "zone": session.studio.zone,
        "form": form,
        "start": start,
        "legend": legend([start] if start else []),
        "paints": paints(),
        "refused": refused,
        "times": times,
        "losing": found.losing if found else (),
    }
    return render(request, "web/move.html", context, status=status)
