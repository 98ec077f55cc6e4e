"""What a browser may fetch and run for our pages: what we serve, and nothing that stands within a page."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

HEADER = "Content-Security-Policy"
POLICY = (
    "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)


def with_policy(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Every answer says so, also one that is no page: a file may be opened as one."""

    def respond(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault(HEADER, POLICY)
        return response

    return respond
