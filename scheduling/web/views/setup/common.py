"""What the pages of the set-up share: whose studio it is, a form carried out, a page shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.translation import gettext as _

from scheduling.web.access import person_of, studio_named
from scheduling.web.setup_forms.base import SetUpForm, SetUpQuestion
from studios.errors import LehrbookError
from studios.models import Equipment, Studio
from studios.selectors import may, studios_of

Form = SetUpForm | SetUpQuestion


def studio_to_set_up(request: HttpRequest, slug: str, action: str = "set-up") -> Studio:
    """A stranger's studio is not found; whoever belongs there and may not set it up is told so."""
    studio = studio_named(slug, studios_of(person_of(request)))
    if studio is None:
        raise Http404
    require(request, action, studio)
    return studio


def equipment_to_set_up(request: HttpRequest, uid: UUID, action: str = "set-up-equipment") -> Equipment:
    """A piece of equipment at a studio whose equipment the person sets up."""
    rows = Equipment.objects.filter(uid=uid, studio__in=studios_of(person_of(request)))
    equipment = rows.select_related("studio", "room", "station").first()
    if equipment is None:
        raise Http404
    require(request, action, equipment.studio)
    return equipment


def require(request: HttpRequest, action: str, studio: Studio) -> None:
    """Raises PermissionDenied, in a sentence."""
    if not may(person_of(request), action, studio):
        said = _("%(studio)s is set up by its manager, its equipment by its technician, too.")
        raise PermissionDenied(said % {"studio": studio.name})


def sent(request: HttpRequest) -> QueryDict | None:
    """What was filled in; nothing as long as the form was not sent."""
    return request.POST if request.method == "POST" else None


def carried_out(act: Callable[[], object], *forms: Form) -> bool:
    """Whether forms were filled in well and what they ask for was done; a refusal stands beside its field."""
    well = [form.is_valid() for form in forms]  # each is asked, so that all errors are shown
    if not all(well):
        return False
    try:
        act()
    except LehrbookError as error:
        naming = next((form for form in forms if error.field in form.fields), forms[0])
        naming.refuse(error)
        return False
    return True


def form_page(
    request: HttpRequest, studio: Studio | None, forms: Sequence[Form], **words: Any
) -> HttpResponse:
    """A page that is a form: `title`, `button`, the way `back`, and what else it says."""
    wrong = any(form.errors for form in forms)
    context = {"studio": studio, "forms": forms, **words}
    return render(request, "web/setup/form.html", context, status=400 if wrong else 200)
