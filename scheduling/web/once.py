"""A form of a page is carried out once, however often it is sent.

    {% once %} --token--> the form --sent--> carried out, answer kept in the same transaction
                                   --again, unchanged--> the first answer, a refusal too
                                   --again, changed--> a page that says so (422), with a new form of it
                                   --again, before the first is done--> a page that says what to do (409)

It is all done here, around whatever view the form goes to. A double click, a way back and again, and an
answer that was lost come to the same. A form without a token is carried out each time it is sent.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from scheduling.errors import KeyReused, RequestRunning
from scheduling.services.repeats import answer_once
from scheduling.templatetags.once import FIELD
from scheduling.web.sending import Refused, Sending, digest_of_form
from studios.models import Person

TOKEN = re.compile(r"[A-Za-z0-9_-]{16,64}")
# No Idempotency-Key has a blank in it, so that no program can take a form's place, nor a form a program's.
KEY = "form {token}"
RETRY_AFTER_S = 5
# Forms that carry no token, and why.
WITHOUT: Mapping[str, str] = {
    "sign-in": "nobody is signed in whose form it could be; attempts are counted one by one",
    "sign-up": "nobody is signed in; a second mail within the hour is not sent in any case",
    "forgotten": "nobody is signed in; a second mail within the hour is not sent in any case",
    "confirm": "nobody is signed in; the link is void once it was used",
    "new-password": "nobody is signed in; the link is void once it was used",
    "keep-seat": "a seat that is kept already stays; whoever goes back and takes another torch has that one",
    "change-password": "a digest of a password must not lie about for two days; the old one is void at once",
    "sign-out": "it ends the sign-in by which a repeat would be known; a second time changes nothing",
    "give-calendar-file": "nobody else waits while it is read; the same file again is no second calendar",
    "lay-log": "it writes nothing; the same log is drawn again, and nobody else waits while it is read",
    "sign-out-everywhere": "it ends the sign-in by which a repeat would be known",
}
View = Callable[..., HttpResponseBase]


class Once:
    """Middleware: after whoever signed in and the CSRF token have been looked at."""

    sync_capable, async_capable = True, False

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: View, args: Sequence[Any], kwargs: Mapping[str, Any]
    ) -> HttpResponseBase | None:
        """Answer in the view's place where the form carries a token."""
        token = _token(request)
        if token is None:
            return None
        return _answer(Sending(request, lambda: view(request, *args, **kwargs)), KEY.format(token=token))


def _token(request: HttpRequest) -> str | None:
    """The token of a page's form; programs and the admin have ways of their own. Raises BadRequest."""
    match = request.resolver_match
    if request.method != "POST" or match is None or match.namespaces or match.url_name in WITHOUT:
        return None
    token = request.POST.get(FIELD)
    if token is None or not isinstance(request.user, Person):
        return None
    if not TOKEN.fullmatch(token):
        raise BadRequest("This is no token of a form.")
    return token


def _answer(sending: Sending, key: str) -> HttpResponseBase:
    request = sending.request
    try:
        answer = answer_once(
            person=sending.person, key=key, digest=digest_of_form(request), act=sending.act, refuse=_refusal
        )
    except KeyReused:
        return _page(request, "web/sent_before.html", status=422, but=FIELD)
    except RequestRunning:
        sending.forget()  # it may have been too slow, and another copy took over
        response = _page(request, "web/being_sent.html", status=409)
        response["Retry-After"] = str(RETRY_AFTER_S)
        return response
    return sending.response(answer)


def _refusal(error: Exception) -> Any:
    """What a view answered with a refusal is kept; what it raised (no such page, not allowed) is not."""
    if isinstance(error, Refused):
        return error.answer
    raise error


def _page(request: HttpRequest, template: str, status: int, but: str = "") -> HttpResponse:
    """A page that can send again what was filled in, `but` one field of it; a file it cannot."""
    fields = [] if request.FILES else _fields(request)
    sent = [(name, each) for name, all_ in fields if name != but for each in all_]
    return render(request, template, {"form_page": _form_page(request), "sent": sent}, status=status)


def _fields(request: HttpRequest) -> list[tuple[str, list[Any]]]:
    return [(name, values) for name, values in request.POST.lists() if name != "csrfmiddlewaretoken"]


def _form_page(request: HttpRequest) -> str:
    """The page where the form stood, as the browser says; else the sheet."""
    said = request.headers.get("Referer", "")
    ours = url_has_allowed_host_and_scheme(said, {request.get_host()}, require_https=request.is_secure())
    if not said or not ours:
        return reverse("week")
    parts = urlsplit(said)
    return f"{parts.path}?{parts.query}" if parts.query else parts.path
