"""What is said of how long an answer is."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

NOT_MODIFIED = 304


def no_length_of_nothing(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Who has the bytes already is not told that there are none: a 304 names no length but theirs.

    RFC 9110, 8.6. Django writes a length of 0, and what keeps answers on the way may believe it.
    """

    def respond(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if response.status_code == NOT_MODIFIED:
            del response.headers["Content-Length"]
        return response

    return respond
