"""One sending of a form: what makes it the same as another, what came of it, and that shown again."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.middleware.csrf import get_token

from scheduling.reader import present, reading
from scheduling.services.repeats import Answer, digest_of
from scheduling.templatetags.once import FIELD
from scheduling.web.access import person_of
from studios.models import Person

CSRF_FIELD = "csrfmiddlewaretoken"
IN_A_PAGE = re.compile(rf'(name="{CSRF_FIELD}" value=")[^"]*(")')
NO_PART_OF_IT = {CSRF_FIELD, FIELD}
KEPT_HEADERS = re.compile(r"Content-Type|Location|HX-.*", re.IGNORECASE)


def digest_of_form(request: HttpRequest) -> str:
    """What was filled in and where it goes.

    Neither the CSRF token nor the bounds between the parts of a body, which differ each time, tell two forms
    apart; a file does by its name and what is in it.
    """
    typed = {name: values for name, values in request.POST.lists() if name not in NO_PART_OF_IT}
    files = {name: [_file(one) for one in found] for name, found in request.FILES.lists()}
    body = json.dumps([typed, files], sort_keys=True).encode()
    return digest_of(method=request.method or "", path=request.get_full_path(), body=body)


def _file(file: UploadedFile) -> list[str]:
    found = hashlib.sha256()
    for chunk in file.chunks():
        found.update(chunk)
    return [file.name or "", found.hexdigest()]


class Refused(Exception):
    """The view answered with a refusal: nothing that it wrote may stand, and the answer is kept."""

    def __init__(self, answer: Answer) -> None:
        super().__init__(answer.status_code)
        self.answer = answer


class Sending:
    """One sending of a form, carried out by `view` if it is the first."""

    def __init__(self, request: HttpRequest, view: Callable[[], HttpResponseBase]) -> None:
        self.request, self._view, self._reader = request, view, present()
        self._shown: HttpResponse | None = None

    @property
    def person(self) -> Person:
        return person_of(self.request)

    def act(self) -> Answer:
        """Carry it out, maybe again after a deadlock; what it says besides its page is part of the answer.

        Raises Refused, and whatever the view raises.
        """
        self._begin_anew()
        with reading(*self._reader):
            response = self._view()
        if callable(render := getattr(response, "render", None)):
            response = render()
        if not isinstance(response, HttpResponse):
            raise TypeError("What a form is answered with must fit into a row; a stream does not.")
        answer = Answer(status_code=response.status_code, body=self._kept(response))
        self._shown = response
        if response.status_code >= 400:
            raise Refused(answer)
        return answer

    def response(self, answer: Answer) -> HttpResponse:
        """The answer as it was just given, or the first one again, with a CSRF token that is good now."""
        if self._shown is not None:
            return self._shown
        for level, text, tags in answer.body["said"]:
            messages.add_message(self.request, level, text, tags)
        headers, token = answer.body["headers"], get_token(self.request)
        if "Location" in headers:
            return HttpResponseRedirect(headers["Location"], status=answer.status_code, headers=headers)
        content = IN_A_PAGE.sub(rf"\g<1>{token}\g<2>", answer.body["content"])
        return HttpResponse(content, status=answer.status_code, headers=headers)

    def forget(self) -> None:
        """Nothing of it stands: neither its answer nor what it said."""
        self._shown = None
        self._said().clear()

    def _begin_anew(self) -> None:
        self.forget()
        for _, files in self.request.FILES.lists():
            for file in files:
                file.seek(0)

    def _kept(self, response: HttpResponse) -> dict[str, Any]:
        """Without the CSRF token, which is a secret of the sign-in."""
        return {
            "headers": {name: value for name, value in response.items() if KEPT_HEADERS.fullmatch(name)},
            "content": IN_A_PAGE.sub(r"\1\2", response.content.decode(response.charset)),
            "said": [[said.level, str(said.message), said.extra_tags] for said in self._said()],
        }

    def _said(self) -> list[Any]:
        """What the view has said for the page after this one; reading it the public way would use it up."""
        return messages.get_messages(self.request)._queued_messages  # type: ignore[union-attr]  # noqa: SLF001
