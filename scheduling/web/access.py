"""Who stands in front of a page, and which studios open to this person."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest

from scheduling.selectors.held import Viewer, viewer_of
from studios.models import Person, Studio
from studios.selectors import studios_of

__all__ = ["login_required", "person_of", "studio_of", "studios_for", "viewer_for"]


def person_of(request: HttpRequest) -> Person:
    """The person who signed in; views that ask stand behind `login_required`."""
    if not isinstance(request.user, Person):
        raise Http404
    return request.user


def viewer_for(request: HttpRequest) -> Viewer:
    """What this person may see of others."""
    return viewer_of(person_of(request))


def studios_for(request: HttpRequest) -> QuerySet[Studio]:
    """The person's studios; with `?studio=` only that one, and a stranger's is not found."""
    studios = studios_of(person_of(request))
    slug = request.GET.get("studio", "")
    if slug:
        studios = studios.filter(slug=slug)
        if not studios.exists():
            raise Http404
    return studios


def studio_of(request: HttpRequest, slug: str) -> Studio:
    """One studio of the person's own, or nothing found."""
    studio = studios_of(person_of(request)).filter(slug=slug).first()
    if studio is None:
        raise Http404
    return studio
