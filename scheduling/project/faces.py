"""Which face a request came to, told to the audit by the path."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from scheduling.models import Face
from scheduling.services.audit import acting

FACES = (("/api/", Face.API), ("/admin/", Face.ADMIN))


def face_of(path: str) -> Face:
    """What hangs at no other face (scheduling/project/urls.py) is a page."""
    return next((face for begins, face in FACES if path.startswith(begins)), Face.PAGE)


def face_named(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """All that a request does is noted as done at its face; the next one in the same thread begins anew."""

    def respond(request: HttpRequest) -> HttpResponse:
        with acting(face_of(request.path_info)):
            return get_response(request)

    return respond
