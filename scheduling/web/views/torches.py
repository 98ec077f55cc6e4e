"""The torch bench: which torches are free when, and reserving one."""

from __future__ import annotations

from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from scheduling.engine.clock import ceil_minutes, floor_minutes, local, moment
from scheduling.engine.spans import Span
from scheduling.errors import KeptTooOften
from scheduling.selectors.safety import day_at, to_acknowledge
from scheduling.selectors.sessions import sessions_with_seats
from scheduling.selectors.torch_supplies import SupplyAt
from scheduling.selectors.torches import (
    TorchPlan,
    hindrances,
    kept_torch,
    next_bench_time,
    torch_benches,
    torch_plan,
)
from scheduling.services.keeping import keep_another_torch, keep_torch
from scheduling.services.seats import reserve_bench_torch
from scheduling.web.access import person_of, studio_named, viewer_for
from scheduling.web.drawing.drawn import drawn
from scheduling.web.forms import TorchForm
from scheduling.web.keeping_form import ReadForm
from scheduling.web.lists import by_studio, zones_of
from studios.errors import LehrbookError
from studios.models import Equipment, EquipmentKind, Studio
from studios.selectors import studios_of

CLASSES_SHOWN = 12


@dataclass(kw_only=True)
class Asked:
    """What somebody wants of a bench: the hours, and a torch that was kept too often to be kept again."""

    form: TorchForm
    span: Span | None
    at_once: Equipment | None = field(default=None)
    reading: ReadForm | None = field(default=None)

    @property
    def studio(self) -> Studio:
        studio: Studio = self.form.cleaned_data["studio"]
        return studio


@dataclass(frozen=True, kw_only=True)
class Fed:
    """One supply as the page shows it, and how many of the free torches it feeds."""

    supply: SupplyAt
    plan: TorchPlan

    @property
    def asked_of(self) -> bool:
        """Whether a torch would draw on it, and one is free."""
        return bool(self.supply.each and self.plan.free_count)

    @property
    def more(self) -> int:
        return min(self.supply.still, self.plan.free_count)

    @property
    def tight(self) -> bool:
        """It feeds fewer than are free."""
        return self.asked_of and self.supply.still < self.plan.free_count

    @property
    def picture(self) -> SafeString:
        label = _("%(supply)s around these hours: what is drawn, one torch more, and the limit")
        said = label % {"supply": self.supply.name}
        return drawn(self.supply, self.plan.span, self.plan.studio.zone, said)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def torches(request: HttpRequest) -> HttpResponse:
    """The plan of a bench for a stretch of time; a POST keeps one of its torches, and its form follows."""
    benches = torch_benches(studios_of(person_of(request)))
    if not benches.exists():
        return render(request, "web/torches.html", _classes(request))
    form = _form(request, benches)
    asked = Asked(form=form, span=form.span() if form.is_valid() else None)
    if request.method == "POST" and asked.span is not None:
        done = _posted(request, asked, asked.span)
        if done is not None:
            return done
    return _shown(request, asked, status=409 if request.method == "POST" else 200)


def _form(request: HttpRequest, benches: QuerySet[Studio]) -> TorchForm:
    """What was asked for, else the next open bench time of the studio."""
    given = request.POST or request.GET
    if "day" in given:
        return TorchForm(given, studios=benches)
    studio = studio_named(given.get("studio", ""), benches) or benches[0]
    return TorchForm(
        _wish(studio, next_bench_time(studio, floor_minutes(timezone.now()))),
        studios=benches,
    )


def _wish(studio: Studio, span: Span) -> dict[str, str]:
    """Some hours as the form asks for them."""
    begins, ends = (local(minute, studio.zone) for minute in span)
    return {
        "studio": studio.slug,
        "day": f"{begins:%Y-%m-%d}",
        "starts": f"{begins:%H:%M}",
        "ends": f"{ends:%H:%M}",
    }


def _posted(request: HttpRequest, asked: Asked, span: Span) -> HttpResponse | None:
    """Where it leads to; None where it is refused, and the form says why."""
    torch = _torch(request, asked.studio)
    try:
        if "at_once" in request.POST:
            return _reserved(request, asked, torch, span)
        return _kept(request, torch, span)
    except KeptTooOften as error:
        asked.form.refuse(error)
        _offer_at_once(request, asked, torch)
    except LehrbookError as error:
        asked.form.refuse(error)
    return None


def _torch(request: HttpRequest, studio: Studio) -> Equipment:
    torches = studio.equipment.filter(kind=EquipmentKind.TORCH, active=True)
    torch = next((one for one in torches if str(one.uid) == request.POST.get("torch")), None)
    if torch is None:
        raise Http404
    return torch


def _kept(request: HttpRequest, torch: Equipment, span: Span) -> HttpResponse:
    """Whoever goes back and takes another torch changes to it: the first is free again."""
    person, (start, end) = person_of(request), map(moment, span)
    kept = kept_torch(person, torch.studio, span)
    if kept is None:
        seat = keep_torch(actor=person, torch=torch, starts_at=start, ends_at=end)
    else:
        seat = keep_another_torch(actor=person, kept=kept, torch=torch, starts_at=start, ends_at=end)
    return redirect("kept-seat", uid=seat.uid)


def _offer_at_once(request: HttpRequest, asked: Asked, torch: Equipment) -> None:
    studio, start = asked.studio, moment(asked.span[0]) if asked.span else timezone.now()
    text = to_acknowledge(person=person_of(request), studio=studio, day=day_at(studio, start))
    given = request.POST if "at_once" in request.POST else None
    asked.at_once, asked.reading = torch, ReadForm(given, text=text)


def _reserved(request: HttpRequest, asked: Asked, torch: Equipment, span: Span) -> HttpResponse | None:
    """A torch that has been kept too often is reserved at once; what is to be read stands beside."""
    _offer_at_once(request, asked, torch)
    reading = asked.reading
    if reading is None or not reading.is_valid():
        return None
    start, end = map(moment, span)
    try:
        reserve_bench_torch(
            actor=person_of(request), torch=torch, starts_at=start, ends_at=end, **reading.cleaned_data
        )
    except LehrbookError as error:
        reading.refuse(error)
        return None
    messages.success(request, _("%(torch)s is yours; it stands among your seats.") % {"torch": torch.name})
    return redirect("my-seats")


def _shown(request: HttpRequest, asked: Asked, status: int) -> HttpResponse:
    context: dict[str, object] = {"form": asked.form, "at_once": asked.at_once, "reading": asked.reading}
    if asked.span is not None:
        context |= _planned(request, asked.studio, asked.span)
    return render(request, "web/torches.html", context | _classes(request), status=status)


def _planned(request: HttpRequest, studio: Studio, span: Span) -> dict[str, object]:
    person = person_of(request)
    plan = torch_plan(studio=studio, span=span, person=person, viewer=viewer_for(request))
    half = (len(plan.places) + 1) // 2
    wish = _wish(studio, span)
    return {
        "plan": plan,
        "zone": studio.zone,
        "wish": wish,
        "sides": [plan.places[:half], plan.places[half:]],
        "hindrances": hindrances(person=person, plan=plan, now=ceil_minutes(timezone.now())),
        "feeds": [Fed(supply=one, plan=plan) for one in plan.supplies],
        "nearest": [(other, urlencode(_wish(studio, other))) for other in plan.others.nearest],
        "same_time": [(other, urlencode(_wish(studio, other))) for other in plan.others.same_time],
    }


def _classes(request: HttpRequest) -> dict[str, object]:
    person = person_of(request)
    studios = studios_of(person)
    sessions = sessions_with_seats(person=person, kind=EquipmentKind.TORCH)
    return {"classes": by_studio(sessions, studios, CLASSES_SHOWN), "zones": zones_of(studios)}
