"""The log of a firing, laid over what was asked of it and what was worked out; nothing of it is stored."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from scheduling.selectors.firings import FiringPage
from scheduling.selectors.given_logs import LaidLog, laid_over
from scheduling.services.actuals import require_recorder
from scheduling.web.access import permitted, person_of
from scheduling.web.calibration_forms import FiringLogForm
from scheduling.web.views.firings import page_of, shown
from studios.calibration import read_log
from studios.errors import LehrbookError


@login_required
@require_POST
def lay(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Whoever records what happened gives the log of a firing, and sees where it went another way."""
    page = page_of(request, uid)
    with permitted():
        require_recorder(person_of(request), page.firing)
    if not page.stands:
        raise Http404
    form = FiringLogForm(request.POST, request.FILES, studio=page.firing.equipment.studio)
    log = _laid(page, form) if form.is_valid() else None
    return shown(request, page, log_form=form, log=log, status=409 if log is None else 200)


def _laid(page: FiringPage, form: FiringLogForm) -> LaidLog | None:
    """None: an error stands beside its field."""
    try:
        log = read_log(form.cleaned_data["log"].read(), **form.ways())
        return laid_over(page, log, page.body, begins=form.begins())
    except LehrbookError as error:
        form.refuse(error)
        return None
