"""Who is signed off for what; the safety text; the way to other studios."""

from __future__ import annotations

from collections import defaultdict
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from scheduling.selectors.people import people_of
from scheduling.selectors.safety import text_in_force
from scheduling.services.set_up.people import sign_off
from scheduling.services.set_up.texts import write_text
from scheduling.services.set_up.ways import keep_way
from scheduling.web.access import person_of
from scheduling.web.setup_forms.courses import SignOffForm, TextForm, WayForm
from scheduling.web.views.setup.common import carried_out, form_page, sent, studio_to_set_up
from studios.models import EquipmentKind, Qualification, Studio
from studios.selectors import people_known_at

KEEPS = "keep-people"


@login_required
@require_safe
def sign_offs(request: HttpRequest, slug: str) -> HttpResponse:
    """Everybody with a role, and what each is signed off for."""
    studio = studio_to_set_up(request, slug, KEEPS)
    kinds: dict[int, list[str]] = defaultdict(list)
    for row in Qualification.objects.filter(studio=studio):
        kinds[row.person_id].append(str(EquipmentKind(row.kind).label))
    rows = [(one.person, one.roles, kinds[one.person.pk]) for one in people_of(studio).people]
    return render(request, "web/setup/sign_offs.html", {"studio": studio, "rows": rows})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def signing_off(request: HttpRequest, slug: str, uid: UUID) -> HttpResponse:
    """For which kinds of equipment somebody is signed off from now on."""
    studio = studio_to_set_up(request, slug, KEEPS)
    person = get_object_or_404(people_known_at(studio), uid=uid)
    rows = Qualification.objects.filter(person=person, studio=studio)
    initial = {"kinds": list(rows.values_list("kind", flat=True))}
    form = SignOffForm(sent(request), studio=studio, initial=initial)
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: sign_off(actor=actor, person=person, studio=studio, kinds=form.cleaned_data["kinds"]), form
    ):
        messages.success(request, _("It is kept, and %(name)s is told.") % {"name": person.name})
        return redirect("sign-offs", slug=slug)
    return form_page(
        request,
        studio,
        [form],
        title=_("Sign-offs of %(name)s") % {"name": person.name},
        lead=_(
            "Who teaches needs one for each kind of equipment that a course needs; who works at a torch in "
            "open bench time needs one for torches. What is booked already stands."
        ),
        button=_("Keep it"),
        back=(reverse("sign-offs", args=[slug]), _("Sign-offs")),
        caution=_(
            "A sign-off says that your studio has seen somebody work safely with it; it is no licence. Local "
            "codes, the makers’ instructions and licensed practice decide."
        ),
    )


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def safety(request: HttpRequest, slug: str) -> HttpResponse:
    """The text in force, and a new version of it."""
    studio = studio_to_set_up(request, slug)
    text = text_in_force(studio)
    form = TextForm(sent(request), studio=studio, initial={"body": text.body if text else ""})
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: write_text(actor=actor, studio=studio, body=form.cleaned_data["body"]), form
    ):
        messages.success(request, _("It is in force. Whoever has read an earlier version is asked again."))
        return redirect("set-up-studio", slug=slug)
    in_force = _("Version %(version)s is in force; a new version leaves it as somebody has read it.")
    return form_page(
        request,
        studio,
        [form],
        title=_("Safety text"),
        lead=in_force % {"version": text.version}
        if text
        else _("There is none: nobody is asked to read any."),
        button=_("Put it in force"),
        back=(reverse("set-up-studio", args=[slug]), studio.name),
        caution=_(
            "It takes nobody’s place. Local codes, the makers’ instructions and licensed practice decide."
        ),
    )


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def travel(request: HttpRequest, slug: str) -> HttpResponse:
    """How long somebody needs to each other studio of the network."""
    studio = studio_to_set_up(request, slug)
    form = WayForm(sent(request), studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(
        lambda: keep_way(actor=actor, studio=studio, **form.asked()), form
    ):
        messages.success(request, _("It is kept. What is booked already stands."))
        return redirect("set-up-travel", slug=slug)
    context = {"studio": studio, "rows": _ways(studio), "form": form}
    return render(request, "web/setup/travel.html", context, status=400 if form.errors else 200)


def _ways(studio: Studio) -> list[tuple[Studio, int | None, int | None]]:
    """Each other studio with the minutes there and back; none where nobody has said."""
    there = dict(studio.travel_from.values_list("destination", "minutes"))
    back = dict(studio.travel_to.values_list("origin", "minutes"))
    others = Studio.objects.exclude(pk=studio.pk).order_by("name")
    return [(other, there.get(other.pk), back.get(other.pk)) for other in others]
