"""Who stands in front of a page, and which studios open to this person."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest

from scheduling.selectors.held import Viewer, viewer_of
from studios.errors import LehrbookError
from studios.models import Person, Studio
from studios.selectors import studios_of

__all__ = ["login_required", "permitted", "person_of", "studio_named", "studios_for", "viewer_for"]


def person_of(request: HttpRequest) -> Person:
    """The person who signed in; views that ask stand behind `login_required`."""
    if not isinstance(request.user, Person):
        raise Http404
    return request.user


@contextmanager
def permitted() -> Iterator[None]:
    """What a service refuses to somebody, a page refuses as a whole, in the same sentence."""
    try:
        yield
    except LehrbookError as error:
        raise PermissionDenied(str(error)) from error


def viewer_for(request: HttpRequest) -> Viewer:
    """What this person may see of others."""
    return viewer_of(person_of(request))


def studios_for(request: HttpRequest) -> QuerySet[Studio]:
    """The person's studios; with `?studio=` only that one, and a stranger's is not found."""
    studios = studios_of(person_of(request))
    slug = request.GET.get("studio", "")
    if slug:
        studio = studio_named(slug, studios)
        if studio is None:
            raise Http404
        studios = studios.filter(pk=studio.pk)
    return studios


def studio_named(slug: str, studios: QuerySet[Studio]) -> Studio | None:
    """One of some studios by its short name; compared here, as an address may hold what no database takes."""
    return next((studio for studio in studios if studio.slug == slug), None)
