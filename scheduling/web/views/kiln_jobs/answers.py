"""The answer to a kiln job: sought, watched, stopped, compared with others, booked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from scheduling.errors import PlanGone
from scheduling.models import KilnAim, KilnAnswer, KilnJob, KilnJobStatus
from scheduling.selectors.kiln_jobs import Sought, how_it_stands, may_book, stands_still
from scheduling.selectors.pieces import pieces_to_fire
from scheduling.services.kiln_answers import set_out, set_out_later, stop
from scheduling.services.kiln_booking import OTHER_WORK, book
from scheduling.web.access import person_of
from scheduling.web.kiln_compared import compared
from scheduling.web.kiln_forms.what_if import WhatIfForm
from scheduling.web.kiln_plan import legend, shown
from scheduling.web.shown import paints
from scheduling.web.views.kiln_jobs.common import answer_minded, first_studio, job_minded
from studios.errors import LehrbookError


@login_required
@require_safe
def answer(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The plan, or why there is none; while it is sought, how far it is."""
    found = answer_minded(request, uid)
    return _page(request, found, WhatIfForm(studio=first_studio(found.job), job=found.job))


@login_required
@require_POST
def seek(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Seek a plan for a job, by one of the three aims, or with something otherwise."""
    job = job_minded(request, uid)
    aim = request.POST.get("aim", "")
    return _sought(request, job, aim=aim if aim in KilnAim.values else "")


@login_required
@require_POST
def what_if(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The same job with something otherwise; the answer stands beside the one it was asked from."""
    found = answer_minded(request, uid)
    form = WhatIfForm(request.POST, studio=first_studio(found.job), job=found.job)
    if not form.is_valid():
        return _page(request, found, form, status=400)
    return _sought(request, found.job, what_if=form.what_if())


@login_required
@require_POST
def due_later(request: HttpRequest, uid: UUID) -> HttpResponse:
    """It is due when the earliest plan is ready, and that plan is sought."""
    try:
        found = set_out_later(actor=person_of(request), answer=answer_minded(request, uid))
    except LehrbookError as error:
        messages.error(request, str(error))
        return redirect("kiln-jobs-answer", uid=uid)
    return redirect("kiln-jobs-answer", uid=found.uid)


@login_required
@require_POST
def stop_search(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The search ends with the best so far."""
    found = answer_minded(request, uid)
    try:
        stop(actor=person_of(request), answer=found)
    except LehrbookError as error:
        messages.error(request, str(error))
    return redirect("kiln-jobs-answer", uid=uid)


@login_required
@require_POST
def book_answer(request: HttpRequest, uid: UUID) -> HttpResponse:
    """All of a plan is booked; where others were faster, a fresh answer is sought and shown."""
    found = answer_minded(request, uid)
    try:
        job = book(actor=person_of(request), answer=found)
    except PlanGone as error:
        messages.error(request, str(error))
        messages.warning(request, _("Nothing was booked. This is a fresh answer, as the kilns stand now."))
        return _sought(request, found.job, aim=found.aim, what_if=found.what_if)
    except LehrbookError as error:
        messages.error(request, str(error))
        return redirect("kiln-jobs-answer", uid=uid)
    messages.success(request, _("%(what)s: its firings are booked.") % {"what": job.title})
    return redirect("kiln-jobs-job", uid=job.uid)


def _sought(request: HttpRequest, job: KilnJob, **wanted: Any) -> HttpResponse:
    try:
        found = set_out(actor=person_of(request), job=job, **wanted)
    except LehrbookError as error:
        messages.error(request, str(error))
        return redirect("kiln-jobs-job", uid=job.uid)
    return redirect("kiln-jobs-answer", uid=found.uid)


def _page(request: HttpRequest, found: KilnAnswer, form: WhatIfForm, status: int = 200) -> HttpResponse:
    stands = how_it_stands(found)
    if request.htmx and stands != Sought.SEEKING:  # type: ignore[attr-defined]  # django-htmx sets it
        return HttpResponseClientRefresh()
    job, person = found.job, person_of(request)
    studio = first_studio(job)
    context = {
        "answer": found,
        "job": job,
        "studio": studio,
        "zone": studio.zone,
        "stands": stands.value,
        "compared": compared(found),
        "form": form,
        "asked": job.status == KilnJobStatus.ASKED,
        "booked": job.status == KilnJobStatus.BOOKED,
        "bookable": stands_still(found),
        "other_work": bool(OTHER_WORK & found.what_if.keys()),
        "may_book": may_book(person, job),
        **_planned(found, stands),
    }
    return render(request, "web/kiln_answer.html", context, status=status)


def _planned(found: KilnAnswer, stands: Sought) -> dict[str, Any]:
    """The plan as it is read, with what its strips are painted with."""
    pieces = pieces_to_fire(found.job).select_related("maker", "size")
    plan = shown(found, list(pieces)) if stands == Sought.FOUND else None
    loads: Sequence[Any] = plan.loads if plan is not None else ()
    return {"plan": plan, "paints": paints() if loads else "", "legend": legend(loads)}
