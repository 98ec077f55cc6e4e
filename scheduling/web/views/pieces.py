"""Pieces in the hand: one with its history, put somewhere, damaged, handed over and signed, found again."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from scheduling.models import Piece, PieceState
from scheduling.selectors.pieces import GONE, events_of, pieces_seen_by, studio_of
from scheduling.services.pieces import damaged, found_again, hand_over, place_pieces, take_back
from scheduling.web.access import person_of
from scheduling.web.forms import PlainForm
from scheduling.web.kiln_back import back_from
from scheduling.web.kiln_forms.pieces import DamageForm, HandOverForm, PlaceForm
from studios.errors import LehrbookError
from studios.selectors import may

MOST_AT_ONCE = 600
# What may be taken up as a whole.
WHOLE = {"job": "job__uid", "class": "session__uid"}


@login_required
@require_safe
def piece(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Where it is, how it is, and what happened to it."""
    return _page(request, _seen(request, uid))


def _seen(request: HttpRequest, uid: UUID) -> Piece:
    return get_object_or_404(pieces_seen_by(person_of(request)), uid=uid)


def _page(
    request: HttpRequest,
    found: Piece,
    *,
    place: PlaceForm | None = None,
    damage: DamageForm | None = None,
    hand: HandOverForm | None = None,
    status: int = 200,
) -> HttpResponse:
    studio = studio_of(found)
    gone = found.state in GONE
    context = {
        "piece": found,
        "studio": studio,
        "zone": studio.zone,
        "events": events_of(found),
        "hands_out": may(person_of(request), "hand-out", studio),
        "gone": gone,
        "place": place or PlaceForm(initial={"place": found.place}),
        "damage": damage or DamageForm(),
        "hand": hand or HandOverForm(),
    }
    return render(request, "web/piece.html", context, status=status)


@login_required
@require_POST
def put(request: HttpRequest) -> HttpResponse:
    """Pieces that were ticked lie somewhere now."""
    found = _ticked(request)
    form = PlaceForm(request.POST)
    if not form.is_valid():
        return _refused(request, form)
    return _done(request, form, lambda: _put(request, found, form))


def _put(request: HttpRequest, found: list[Piece], form: PlaceForm) -> str:
    where = form.cleaned_data["place"]
    put_there = place_pieces(actor=person_of(request), pieces=found, place=where)
    said = ngettext(
        "%(number)s piece lies there: %(place)s.", "%(number)s pieces lie there: %(place)s.", len(put_there)
    )
    return said % {"number": len(put_there), "place": where}


@login_required
@require_POST
def give(request: HttpRequest) -> HttpResponse:
    """Pieces that were ticked are handed over, and signed for."""
    found = _ticked(request)
    form = HandOverForm(request.POST)
    if not form.is_valid():
        return _refused(request, form)
    return _done(request, form, lambda: _give(request, found, form))


def _give(request: HttpRequest, found: list[Piece], form: HandOverForm) -> str:
    given = hand_over(actor=person_of(request), pieces=found, signed_by=form.cleaned_data["signed_by"])
    said = ngettext(
        "%(number)s piece is handed over to %(who)s.",
        "%(number)s pieces are handed over to %(who)s.",
        len(given),
    )
    return said % {"number": len(given), "who": given[0].signed_by}


@login_required
@require_POST
def damage(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What happened to a piece is noted, and its maker told."""
    found, form = _seen(request, uid), DamageForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            damaged(actor=person_of(request), piece=found, damage=given["damage"], lost=given["lost"])
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request, _("It is noted of %(piece)s; its maker is told.") % {"piece": found.label}
            )
            return redirect("piece", uid=uid)
    return _page(request, found, damage=form, status=400)


@login_required
@require_POST
def again(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What was lost is found, or what was handed over came back."""
    found = _seen(request, uid)
    service = take_back if found.state == PieceState.HANDED_OVER else found_again
    try:
        service(actor=person_of(request), piece=found, place=request.POST.get("place", "")[:60].strip())
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("%(piece)s is here again.") % {"piece": found.label})
    return redirect("piece", uid=uid)


def _ticked(request: HttpRequest) -> list[Piece]:
    """The pieces that were ticked, or all that are left of the job or class; whatever else is passed over."""
    seen = pieces_seen_by(person_of(request))
    kind, _sep, key = request.POST.get("all", "").partition(":")
    if kind in WHOLE and (whole := _uid(key)) is not None:
        return list(seen.filter(**{WHOLE[kind]: whole}).exclude(state__in=GONE))
    wanted = list(dict.fromkeys(request.POST.getlist("piece")))[:MOST_AT_ONCE]
    uids = [uid for each in wanted if (uid := _uid(each)) is not None]
    return list(seen.filter(uid__in=uids))


def _uid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def _done(request: HttpRequest, form: PlainForm, act: Callable[[], str]) -> HttpResponse:
    try:
        messages.success(request, act())
    except LehrbookError as error:
        form.refuse(error)
        return _refused(request, form)
    return redirect(back_from(request))


def _refused(request: HttpRequest, form: PlainForm) -> HttpResponse:
    """What is wrong is said on the page that it was sent from."""
    for errors in form.errors.values():
        for sentence in errors:
            messages.error(request, str(sentence))
    return redirect(back_from(request))
