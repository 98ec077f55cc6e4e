"""A kiln job: what is booked, what is next, its pieces; they come, and the job is called off."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from scheduling.models import JobStep, KilnJob, KilnJobStatus, PieceState
from scheduling.selectors.kiln_jobs import jobs_seen_by, may_book, minds_job, steps_of
from scheduling.selectors.kiln_next import in_the_way, next_of
from scheduling.selectors.kiln_ready import handed_back
from scheduling.selectors.kiln_stages import needs_more
from scheduling.services.kiln_booking import cancel
from scheduling.services.kiln_jobs import arrived, step_done
from scheduling.web.access import person_of
from scheduling.web.kiln_compared import compared
from scheduling.web.kiln_forms.pieces import PlaceForm, chosen
from scheduling.web.views.kiln_jobs.common import first_studio, job_minded, job_seen, pieces_of
from studios.errors import LehrbookError
from studios.selectors import allowed_at


@login_required
@require_safe
def kiln_job(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Everything of one job; who only has a piece in it sees the own pieces."""
    return page(request, job_seen(request, uid))


def page(
    request: HttpRequest, job: KilnJob, *, place: PlaceForm | None = None, status: int = 200
) -> HttpResponse:
    """The page of a job, with what was filled in wrongly."""
    person, studio = person_of(request), first_studio(job)
    minds, pieces = minds_job(person, job), pieces_of(job)
    hands_out = not allowed_at(person, "hand-out").isdisjoint(each.pk for each in job.studios.all())
    answer = job.answers.order_by("-started_at", "-pk").first()
    context = {
        "job": job,
        "studio": studio,
        "zone": studio.zone,
        "pieces": pieces if minds or hands_out else [each for each in pieces if each.maker == person],
        "all_pieces": len(pieces),
        "expected": sum(piece.state == PieceState.EXPECTED for piece in pieces),
        "minds": minds,
        "hands_out": hands_out or person.is_superuser,
        "next": next_of(job, pieces),
        "loads": job.loads.select_related("firing__equipment__studio").order_by("in_from", "pk"),
        "steps": steps_of(job),
        "ticks_at": allowed_at(person, "tick"),
        "answer": answer,
        "compared": compared(answer) if answer is not None and minds else None,
        "place": place or PlaceForm(),
        "anew": job.status == KilnJobStatus.BOOKED and may_book(person, job) and needs_more(job),
        "handed_back": handed_back(job),
        "in_the_way": in_the_way(job),
        "now": timezone.now(),
        "back": f"job:{job.uid}",
    }
    return render(request, "web/kiln_job.html", context, status=status)


@login_required
@require_POST
def pieces_come(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The ticked pieces are at the studio; without a tick, all that are expected."""
    job = job_minded(request, uid)
    some = chosen(request.POST, pieces_of(job)) or None
    try:
        come = arrived(
            actor=person_of(request), job=job, pieces=some, place=request.POST.get("place", "")[:60].strip()
        )
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        said = ngettext("%(number)s piece is here.", "%(number)s pieces are here.", len(come))
        messages.success(request, said % {"number": len(come)})
    return redirect("kiln-jobs-job", uid=uid)


@login_required
@require_POST
def call_off(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Its firings that have not begun are called off; what is in a kiln stays in it."""
    job = job_minded(request, uid)
    try:
        cancel(actor=person_of(request), job=job)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _("%(what)s is called off.") % {"what": job.title})
    return redirect("kiln-jobs-job", uid=uid)


@login_required
@require_POST
def tick_step(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Handwork is done, or was not after all."""
    seen = jobs_seen_by(person_of(request)).order_by().values("pk")
    step = get_object_or_404(JobStep.objects.select_related("job", "studio"), uid=uid, job__in=seen)
    try:
        step_done(actor=person_of(request), step=step, done=request.POST.get("done") != "no")
    except LehrbookError as error:
        messages.error(request, str(error))
    return redirect("kiln-jobs-job", uid=step.job.uid)
