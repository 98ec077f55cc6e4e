"""A calendar as an HTTP answer: plain or compressed, with a strong ETag; 304 to whoever has it already."""

from __future__ import annotations

import datetime as dt
import gzip
import re
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.http import content_disposition_header, http_date

from scheduling.models import FeedForm

TYPES = {
    FeedForm.ICALENDAR: "text/calendar; charset=utf-8",
    FeedForm.JCAL: "application/calendar+json",
    FeedForm.FREE_BUSY: "text/calendar; charset=utf-8",
}
CODING = re.compile(r"([^\s;]+)(?:\s*;\s*q\s*=\s*([01](?:\.[0-9]{0,3})?))?", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Tagged:
    """What the bytes of a calendar are known by, before they are at hand."""

    digest: str
    form: FeedForm
    filename: str
    keep: bool = False
    changed_at: dt.datetime | None = None


def not_modified(request: HttpRequest, tagged: Tagged) -> HttpResponseBase | None:
    """304 to whoever has these bytes; 412 to whoever wants others. Each coding has an ETag of its own."""
    headers = _headers(request, tagged)
    modified = int(tagged.changed_at.timestamp()) if tagged.changed_at else None
    response: HttpResponseBase | None = get_conditional_response(request, headers["ETag"], modified)
    if response is not None:
        for name, value in headers.items():
            response[name] = value
    return response


def whole(request: HttpRequest, tagged: Tagged, compressed: bytes) -> HttpResponseBase:
    """The calendar, unless whoever asks has it already."""
    if (unchanged := not_modified(request, tagged)) is not None:
        return unchanged
    headers = _headers(request, tagged)
    coded = takes_gzip(request)
    content = compressed if coded else gzip.decompress(compressed)
    headers["Content-Length"] = str(len(content))
    headers["Content-Disposition"] = content_disposition_header(tagged.keep, tagged.filename) or "inline"
    if coded:
        headers["Content-Encoding"] = "gzip"
    # Not every server drops the body of an answer to HEAD by itself.
    body = b"" if request.method == "HEAD" else content
    return HttpResponse(body, content_type=TYPES[tagged.form], headers=headers)


def _headers(request: HttpRequest, tagged: Tagged) -> dict[str, str]:
    """What a 304 says, too."""
    coding = "-gzip" if takes_gzip(request) else ""
    headers = {
        "ETag": f'"{tagged.digest[:32]}{coding}"',
        "Cache-Control": "private, no-cache",
        "Vary": "Accept-Encoding",
    }
    if tagged.changed_at:
        headers["Last-Modified"] = http_date(tagged.changed_at.timestamp())
    return headers


def takes_gzip(request: HttpRequest) -> bool:
    """Whether gzip is wanted at least as much as the plain bytes (RFC 9110, 12.5.3).

    What is not named weighs what * weighs; plain bytes are welcome a little in any case.
    """
    weights: dict[str, float] = {}
    for part in request.META.get("HTTP_ACCEPT_ENCODING", "").lower().split(","):
        if named := CODING.fullmatch(part.strip()):
            weights[named[1]] = float(named[2] or 1)
    coded = weights.get("gzip", weights.get("x-gzip", weights.get("*", 0.0)))
    return coded > 0 and coded >= weights.get("identity", 0.0)
