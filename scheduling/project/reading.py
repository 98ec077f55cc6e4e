"""In which language, and in which units, whoever is signed in reads the pages."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers
from django.utils.translation import get_language_from_request

from scheduling.reader import for_the_record, reading
from studios.models import Person

# They have no reader whom we know, or one who is a program: English, in each studio's own units.
WITHOUT_READER = ("/api/", "/admin/", "/calendars/")


def read_by(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """A page is said as its reader chose; whoever chose no language, in one the browser asks for."""

    def respond(request: HttpRequest) -> HttpResponse:
        if request.path_info.startswith(WITHOUT_READER):
            with for_the_record():
                return get_response(request)
        return _to_person(request, get_response)

    return respond


def _to_person(request: HttpRequest, get_response: Callable[[HttpRequest], HttpResponse]) -> HttpResponse:
    person = request.user if isinstance(request.user, Person) else None
    language = (person.language if person else "") or get_language_from_request(request)
    with reading(language, person.units if person else ""):
        response = get_response(request)
    response.headers.setdefault("Content-Language", language)
    patch_vary_headers(response, ["Accept-Language"])
    return response
