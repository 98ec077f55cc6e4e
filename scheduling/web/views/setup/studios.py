"""The studios that somebody sets up, one of them at a glance, and what is said of it as a whole."""

from __future__ import annotations

import datetime as dt
from collections import Counter

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from scheduling.models import Course
from scheduling.selectors.lacking import lacking, worth_having
from scheduling.selectors.safety import text_in_force
from scheduling.selectors.set_up import EQUIPS, SETS_UP, courses_here, may_open, set_up_by, today
from scheduling.services.set_up.studios import change_studio, open_studio
from scheduling.web.access import person_of
from scheduling.web.setup_forms.base import SetUpForm, Words
from scheduling.web.setup_forms.studio import ABOUT, OpenForm
from scheduling.web.setup_lines import LINES
from scheduling.web.setup_words import step
from scheduling.web.views.setup.common import carried_out, form_page, sent, studio_to_set_up
from studios.models import EquipmentKind, GlassType, Studio
from studios.selectors import may, people_known_at

TRIED_DAYS = 13
PARTS = {
    "place": gettext_lazy("Place, zone and units"),
    "rules": gettext_lazy("When classes are booked"),
    "seats": gettext_lazy("Prices, deadlines and reminders"),
    "limits": gettext_lazy("Stress, soak and ceilings"),
    "holidays": gettext_lazy("Public holidays"),
}


@login_required
@require_safe
def studios(request: HttpRequest) -> HttpResponse:
    """The studios that the person sets up; where there is only one, that one."""
    person = person_of(request)
    found, opens = list(set_up_by(person)), may_open(person)
    if not found and not opens:
        raise PermissionDenied(_("A studio is set up by its manager, its equipment by its technician, too."))
    if len(found) == 1:
        return redirect("set-up-studio", slug=found[0].slug)
    rows = [(studio, len(lacking(studio))) for studio in found]
    return render(request, "web/setup/studios.html", {"rows": rows, "opens": opens})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def open_new(request: HttpRequest) -> HttpResponse:
    """A further place of the network; whoever opens it is its first manager."""
    person = person_of(request)
    if not may_open(person):
        raise PermissionDenied(_("A studio is opened by whoever manages one already."))
    studio = Studio()
    form = OpenForm(sent(request), instance=studio, studio=studio)
    if request.method == "POST" and carried_out(
        lambda: open_studio(actor=person, studio=form.instance), form
    ):
        messages.success(
            request, _("%(studio)s is open, and you manage it.") % {"studio": form.instance.name}
        )
        return redirect("set-up-studio", slug=form.instance.slug)
    return form_page(
        request,
        None,
        [form],
        title=_("Open a studio"),
        lead=_(
            "A further place of the network, with clocks, people and equipment of its own. You become its "
            "first manager; what it needs before its first class is listed next."
        ),
        button=_("Open it"),
        back=(reverse("set-up"), _("All studios")),
    )


@login_required
@require_safe
def studio(request: HttpRequest, slug: str) -> HttpResponse:
    """What is here, and what is lacking before anything can be booked."""
    here = studio_to_set_up(request, slug, EQUIPS)
    person = person_of(request)
    courses = list(courses_here(here))
    context = {
        "studio": here,
        "lacking": [step(lack, here) for lack in lacking(here)],
        "worth": [step(lack, here) for lack in worth_having(here)],
        "tries": [(course, _try(course, here)) for course in courses],
        "sets_up": may(person, SETS_UP, here),
        "books": may(person, "book", here),
        "several": set_up_by(person).count() > 1,
        "opens": may_open(person),
        "parts": PARTS.items(),
        "lines": _lines(here, SETS_UP),
        "beside_equipment": _lines(here, EQUIPS),
        "equipment": _by_kind(here),
        "supplies": here.supplies.all(),
        "glasses": GlassType.objects.count(),
        "people": people_known_at(here).count(),
        "text": text_in_force(here),
        "ways": here.travel_from.select_related("destination"),
    }
    return render(request, "web/setup/studio.html", context)


def _lines(here: Studio, action: str) -> list[tuple[str, Words, int]]:
    """The short lists that somebody who may do this keeps, and how long each is."""
    return [
        (name, lines.title, lines.rows(here).count())
        for name, lines in LINES.items()
        if lines.action == action
    ]


def _by_kind(here: Studio) -> list[tuple[str, int]]:
    counts = Counter(here.equipment.filter(active=True).values_list("kind", flat=True))
    return [(str(kind.label), counts[kind.value]) for kind in EquipmentKind if counts[kind.value]]


def _try(course: Course, here: Studio) -> str:
    """Where a start for it is looked for, in the next two weeks, in the evening."""
    first = today(here) + dt.timedelta(days=1)
    asked = {
        "course": course.slug,
        "studios": here.slug,
        "first_day": first.isoformat(),
        "last_day": (first + dt.timedelta(days=TRIED_DAYS)).isoformat(),
        "time": "18:00",
    }
    return f"{reverse('book')}?{urlencode(asked)}"


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def about(request: HttpRequest, slug: str, part: str) -> HttpResponse:
    """One part of what is said of a studio as a whole."""
    here = studio_to_set_up(request, slug)
    if part not in ABOUT:
        raise Http404
    form: SetUpForm = ABOUT[part](sent(request), instance=here, studio=Studio.objects.get(pk=here.pk))
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: change_studio(actor=actor, studio=form.instance, only=form._meta.fields or ()),  # noqa: SLF001
        form,
    ):
        messages.success(request, _("It is kept. What is booked already stays as it was booked."))
        return redirect("set-up-studio", slug=slug)
    return form_page(
        request,
        form.studio,
        [form],
        title=PARTS[part],
        lead=_("It holds from now on; what is booked already stays as it was booked."),
        button=_("Keep it"),
        back=(reverse("set-up-studio", args=[slug]), form.studio.name),
    )
