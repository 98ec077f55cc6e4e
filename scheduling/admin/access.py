"""Who stands in front of the admin."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from studios.models import Person


def actor_of(request: HttpRequest) -> Person:
    """The person who signed in; the admin lets in nobody else."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user
