"""Where a form about pieces goes back to: the page that it stood on, as it names itself, and no other."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest
from django.urls import reverse

PLACES = {"job": "kiln-jobs-job", "class": "class-pieces", "piece": "piece", "unloading": "unloading-list"}
DESK = "pick-up"


def back_from(request: HttpRequest) -> str:
    """The address of a page such as `job:` with its key; whatever else is said comes to the list."""
    kind, _, key = request.POST.get("back", "").partition(":")
    if kind == DESK:
        return reverse(DESK)
    try:
        return reverse(PLACES[kind], args=[UUID(key)])
    except (KeyError, ValueError):
        return reverse("kiln-jobs")
