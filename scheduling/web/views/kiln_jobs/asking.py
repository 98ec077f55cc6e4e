"""Asking for pieces to be fired, and changing what was asked for while nothing of it is booked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from scheduling.models import KilnJob
from scheduling.selectors.visible import fellows_of
from scheduling.services.kiln_answers import set_out
from scheduling.services.kiln_jobs import Changes, SizeAsked, ask_for, change
from scheduling.web.access import person_of
from scheduling.web.kiln_forms.ask import AskForm
from scheduling.web.kiln_forms.sizes import SizeForm, size_forms
from scheduling.web.views.kiln_jobs.common import job_minded
from studios.errors import LehrbookError
from studios.models import GlassType, Mould, Person, Studio
from studios.permissions import ACTIONS
from studios.selectors import allowed_anywhere, studios_of

ANOTHER = "another-size"


@dataclass(frozen=True, kw_only=True)
class Asking:
    """The forms of a page that asks for a kiln job."""

    form: AskForm
    sizes: list[SizeForm]

    def asked(self) -> tuple[dict[str, Any], list[SizeAsked]] | None:
        """What the service takes; None: errors stand beside."""
        well = [form.is_valid() for form in (self.form, *self.sizes)]  # each is asked: all errors are shown
        if not all(well):
            return None
        facts = self.form.asked()
        sizes = [size for form in self.sizes if (size := form.asked()) is not None]
        return None if facts is None else (facts, sizes)

    @property
    def wrong(self) -> bool:
        return self.form.wrong or any(form.errors for form in self.sizes)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def ask(request: HttpRequest) -> HttpResponse:
    """Ask, and go on to when it can be fired."""
    person = person_of(request)
    asking = _asking(request, asking_studios(request), None)
    if request.method == "POST" and ANOTHER not in request.POST and (asked := asking.asked()):
        facts, sizes = asked
        try:
            job = ask_for(actor=person, sizes=sizes, **facts)
            answer = set_out(actor=person, job=job)
        except LehrbookError as error:
            asking.form.refuse(error)
        else:
            return redirect("kiln-jobs-answer", uid=answer.uid)
    return _page(request, asking, None)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def change_asked(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What was asked for, filled in; other sizes are other pieces, with other labels."""
    job = job_minded(request, uid)
    asking = _asking(request, asking_studios(request), job)
    if request.method == "POST" and ANOTHER not in request.POST and (asked := asking.asked()):
        facts, sizes = asked
        same = len(sizes) == job.sizes.count() and not any(form.has_changed() for form in asking.sizes)
        changes = Changes(sizes=None if same else sizes, no_due=facts["due_at"] is None, **facts)
        try:
            change(actor=person_of(request), job=job, changes=changes)
            answer = set_out(actor=person_of(request), job=job)
        except LehrbookError as error:
            asking.form.refuse(error)
        else:
            messages.success(request, _("It is changed; what it comes to is sought anew."))
            return redirect("kiln-jobs-answer", uid=answer.uid)
    return _page(request, asking, job)


def asking_studios(request: HttpRequest) -> QuerySet[Studio]:
    """The studios whose kilns the person may ask for. Raises PermissionDenied where there are none."""
    person = person_of(request)
    studios = studios_of(person)
    if not person.is_superuser:
        may_ask = Q(memberships__person=person, memberships__role__in=ACTIONS["ask-kiln-job"])
        studios = Studio.objects.filter(may_ask).distinct()
    if not studios.exists():
        raise PermissionDenied(_("Whoever belongs to a studio asks for its kilns; join one first."))
    return studios.order_by("name", "pk")


def rows_for(person: Person, studios: QuerySet[Studio]) -> dict[str, Any]:
    """What the rows of sizes are filled in with."""
    moulds = Mould.objects.filter(studio__in=studios, active=True).select_related("studio")
    makers = fellows_of(person)
    if not allowed_anywhere(person, "see-names"):
        makers = makers.filter(pk=person.pk)
    return {"studio": studios[0], "moulds": moulds, "makers": makers}


def _asking(request: HttpRequest, studios: QuerySet[Studio], job: KilnJob | None) -> Asking:
    data = request.POST if request.method == "POST" else None
    more = data is not None and ANOTHER in data
    sizes = list(job.sizes.select_related("mould", "job__owner")) if job is not None else []
    rows = rows_for(person_of(request), studios)
    form = AskForm(data, studios=studios, glasses=GlassType.objects.order_by("name"), job=job)
    if data is not None and more:
        form = AskForm.unchecked(data, studios=studios, glasses=GlassType.objects.order_by("name"))
    return Asking(form=form, sizes=size_forms(data, sizes=sizes, checked=not more, **rows))


def _page(request: HttpRequest, asking: Asking, job: KilnJob | None) -> HttpResponse:
    context = {
        "form": asking.form,
        "sizes": asking.sizes,
        "job": job,
        "another": ANOTHER,
        "studio": asking.form.studio,
    }
    return render(request, "web/kiln_ask.html", context, status=400 if asking.wrong else 200)
