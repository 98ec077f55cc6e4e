"""The torch bench: which torches are free when, and reserving one."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from scheduling.engine.clock import ceil_minutes, floor_minutes, local, moment
from scheduling.engine.spans import Span
from scheduling.selectors.sessions import sessions_with_seats
from scheduling.selectors.torches import hindrances, next_bench_time, torch_benches, torch_plan
from scheduling.services.keeping import keep_torch
from scheduling.web.access import person_of, studio_named, viewer_for
from scheduling.web.forms import TorchForm
from scheduling.web.lists import by_studio, zones_of
from studios.errors import LehrbookError
from studios.models import EquipmentKind, Studio
from studios.selectors import studios_of

CLASSES_SHOWN = 12


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def torches(request: HttpRequest) -> HttpResponse:
    """The plan of a bench for a stretch of time; a POST keeps one of its torches, and its form follows."""
    benches = torch_benches(studios_of(person_of(request)))
    if not benches.exists():
        return render(request, "web/torches.html", _classes(request))
    form = _form(request, benches)
    span = form.span() if form.is_valid() else None
    if request.method == "POST" and span is not None:
        try:
            return _kept(request, form, span)
        except LehrbookError as error:
            form.refuse(error)
    return _shown(request, form, span, status=409 if request.method == "POST" else 200)


def _form(request: HttpRequest, benches: QuerySet[Studio]) -> TorchForm:
    """What was asked for, else the next open bench time of the studio."""
    given = request.POST or request.GET
    if "day" in given:
        return TorchForm(given, studios=benches)
    studio = studio_named(given.get("studio", ""), benches) or benches[0]
    start, end = next_bench_time(studio, floor_minutes(timezone.now()))
    begins = local(start, studio.zone)
    wish = {
        "studio": studio.slug,
        "day": f"{begins:%Y-%m-%d}",
        "starts": f"{begins:%H:%M}",
        "ends": f"{local(end, studio.zone):%H:%M}",
    }
    return TorchForm(wish, studios=benches)


def _kept(request: HttpRequest, form: TorchForm, span: Span) -> HttpResponse:
    studio = form.cleaned_data["studio"]
    torches = studio.equipment.filter(kind=EquipmentKind.TORCH, active=True)
    torch = next((one for one in torches if str(one.uid) == request.POST.get("torch")), None)
    if torch is None:
        raise Http404
    start, end = moment(span[0]), moment(span[1])
    seat = keep_torch(actor=person_of(request), torch=torch, starts_at=start, ends_at=end)
    return redirect("kept-seat", uid=seat.uid)


def _shown(request: HttpRequest, form: TorchForm, span: Span | None, status: int) -> HttpResponse:
    context: dict[str, object] = {"form": form}
    if span is not None:
        studio = form.cleaned_data["studio"]
        plan = torch_plan(studio=studio, span=span, viewer=viewer_for(request))
        half = (len(plan.places) + 1) // 2
        context |= {
            "plan": plan,
            "zone": studio.zone,
            "sides": [plan.places[:half], plan.places[half:]],
            "hindrances": hindrances(person=person_of(request), plan=plan, now=ceil_minutes(timezone.now())),
        }
    return render(request, "web/torches.html", context | _classes(request), status=status)


def _classes(request: HttpRequest) -> dict[str, object]:
    person = person_of(request)
    studios = studios_of(person)
    sessions = sessions_with_seats(person=person, kind=EquipmentKind.TORCH)
    return {"classes": by_studio(sessions, studios, CLASSES_SHOWN), "zones": zones_of(studios)}
