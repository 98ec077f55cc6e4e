"""Courses of a studio, and those of the network that could be taught here, too."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scheduling.models import Course
from scheduling.selectors.set_up import coming, courses_elsewhere, courses_here, others_who_teach
from scheduling.services.set_up.courses import add_course, change_course, teach_here, teach_no_more
from scheduling.web.access import person_of
from scheduling.web.setup_forms.courses import CourseForm
from scheduling.web.views.setup.common import carried_out, form_page, sent, studio_to_set_up
from studios.models import GlassType, Studio


@login_required
@require_safe
def courses(request: HttpRequest, slug: str) -> HttpResponse:
    """What is taught here, and what could be."""
    studio = studio_to_set_up(request, slug)
    context = {
        "studio": studio,
        "here": courses_here(studio),
        "elsewhere": courses_elsewhere(studio),
        "glasses": GlassType.objects.exists(),
        "equipped": studio.equipment.filter(active=True).exists(),
    }
    return render(request, "web/setup/courses.html", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest, slug: str) -> HttpResponse:
    """A course that is taught here from now on."""
    studio = studio_to_set_up(request, slug)
    form = CourseForm(sent(request), instance=Course(), studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: add_course(
            actor=actor, studio=studio, course=form.instance, needs=form.needs(), requires=_requires(form)
        ),
        form,
    ):
        said = _("%(course)s is taught at %(studio)s.")
        messages.success(request, said % {"course": form.instance.name, "studio": studio.name})
        return redirect("set-up-studio", slug=slug)
    return _shown(request, studio, form, _("A new course"), _("Add it"))


def _requires(form: CourseForm) -> list[Course]:
    return list(form.cleaned_data.get("requires") or ())


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def course(request: HttpRequest, slug: str, name: str) -> HttpResponse:
    """A course as it is booked from now on; its booked classes stay as they are."""
    studio = studio_to_set_up(request, slug)
    row = _taught(studio, name)
    form = CourseForm(sent(request), instance=row, studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: change_course(
            actor=actor, studio=studio, course=form.instance, needs=form.needs(), requires=_requires(form)
        ),
        form,
    ):
        said = _("%(course)s is kept. Its classes that are booked stay as they are.")
        messages.success(request, said % {"course": row.name})
        return redirect("set-up-courses", slug=slug)
    return _shown(request, studio, form, _taught(studio, name).name, _("Keep it"))


def _taught(studio: Studio, name: str) -> Course:
    return get_object_or_404(courses_here(studio), slug=name)


def _shown(request: HttpRequest, studio: Studio, form: CourseForm, title: str, button: str) -> HttpResponse:
    return form_page(
        request,
        studio,
        [form],
        title=title,
        lead=_lead(request, form.instance),
        button=button,
        back=(reverse("set-up-courses", args=[studio.slug]), _("Courses")),
        lacking_glass=not GlassType.objects.exists(),
        lacking_equipment=not studio.equipment.filter(active=True).exists(),
    )


def _lead(request: HttpRequest, row: Course) -> str:
    """What a change does not touch, and who else teaches it."""
    if not Course.objects.filter(pk=row.pk).exists():
        return _(
            "Which equipment a class gets, when it is lit and when it may be unloaded is found for each "
            "class."
        )
    if others := others_who_teach(row, person_of(request)):
        said = _(
            "It is taught at %(studios)s, too: whoever changes it manages those as well. Add a course of "
            "your own else."
        )
        return said % {"studios": ", ".join(others)}
    count = coming(row).count()
    said = ngettext(
        "It holds from now on; %(number)s class that is booked stays as it is.",
        "It holds from now on; %(number)s classes that are booked stay as they are.",
        count,
    )
    return said % {"number": count}


@login_required
@require_POST
def teach(request: HttpRequest, slug: str, name: str) -> HttpResponse:
    """A course of the network is taught here, too."""
    studio = studio_to_set_up(request, slug)
    row = get_object_or_404(courses_elsewhere(studio), slug=name)
    teach_here(actor=person_of(request), studio=studio, course=row)
    said = _("%(course)s is taught at %(studio)s.")
    messages.success(request, said % {"course": row.name, "studio": studio.name})
    return redirect("set-up-courses", slug=slug)


@login_required
@require_POST
def no_more(request: HttpRequest, slug: str, name: str) -> HttpResponse:
    """It is booked here no longer; what is booked takes place."""
    studio = studio_to_set_up(request, slug)
    row = _taught(studio, name)
    teach_no_more(actor=person_of(request), studio=studio, course=row)
    said = _("%(course)s is booked here no longer. Its classes that are booked take place.")
    messages.success(request, said % {"course": row.name})
    return redirect("set-up-courses", slug=slug)
