"""The list of kiln jobs: one's own and the studio's, with what is next for each."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from scheduling.models import KilnJobStatus
from scheduling.selectors.kiln_jobs import jobs_seen_by
from scheduling.selectors.kiln_next import job_lines
from scheduling.web.access import person_of
from scheduling.web.lists import zones_of
from studios.selectors import allowed_anywhere, studios_of

OPEN = (KilnJobStatus.ASKED, KilnJobStatus.BOOKED)
MOST_OPEN, MOST_OVER = 100, 20


@login_required
@require_safe
def kiln_jobs(request: HttpRequest) -> HttpResponse:
    """What is asked for and booked; what is done stands below."""
    person = person_of(request)
    if not allowed_anywhere(person, "ask-kiln-job"):
        raise PermissionDenied(_("Whoever belongs to a studio asks for its kilns; join one first."))
    seen = jobs_seen_by(person)
    lines = job_lines(seen.filter(status__in=OPEN), MOST_OPEN)
    context = {
        "own": [line for line in lines if line.job.owner_id == person.pk],
        "others": [line for line in lines if line.job.owner_id != person.pk],
        "zones": zones_of(studios_of(person)),
        "over": job_lines(seen.exclude(status__in=OPEN), MOST_OVER),
    }
    return render(request, "web/kiln_jobs.html", context)
