"""The pieces of a class: how many each has made, each with its label, and where they are."""

from __future__ import annotations

from collections import Counter
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from scheduling.models import SeatStatus, Session
from scheduling.selectors.visible import sessions_of
from scheduling.services.class_pieces import list_pieces
from scheduling.web.access import person_of
from scheduling.web.kiln_forms.pieces import CountsForm, PlaceForm
from studios.errors import LehrbookError
from studios.models import Person
from studios.selectors import may


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def pieces(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Who made how many; below, each of them."""
    session = class_of(request, uid)
    form = CountsForm(request.POST if request.method == "POST" else None, counts=_counts(session))
    if request.method == "POST" and form.is_valid():
        try:
            new = list_pieces(actor=person_of(request), session=session, counts=form.counts())
        except LehrbookError as error:
            form.refuse(error)
        else:
            said = ngettext(
                "%(number)s piece more is listed.", "%(number)s pieces more are listed.", len(new)
            )
            messages.success(request, said % {"number": len(new)})
            return redirect("class-pieces", uid=uid)
    rows = session.pieces.select_related("maker", "size", "session", "job").order_by("number", "pk")
    context = {
        "session": session,
        "studio": session.studio,
        "zone": session.studio.zone,
        "form": form,
        "pieces": list(rows),
        "place": PlaceForm(),
        "back": f"class:{session.uid}",
        "hands_out": True,
    }
    return render(request, "web/class_pieces.html", context, status=409 if form.errors else 200)


def class_of(request: HttpRequest, uid: UUID) -> Session:
    """A class of whoever hands its pieces out; any other is not found."""
    person = person_of(request)
    session = sessions_of(person).filter(uid=uid).first()
    if session is None or not may(person, "hand-out", session.studio):
        raise Http404
    return session


def _counts(session: Session) -> dict[Person, int]:
    """Who sat there, and who taught, each with what is listed already."""
    listed = Counter(session.pieces.values_list("maker_id", flat=True))
    seats = session.seat_rows.filter(status=SeatStatus.BOOKED).select_related("person").order_by("number")
    people = [*(seat.person for seat in seats), session.instructor]
    return {person: listed[person.pk] for person in dict.fromkeys(people)}
