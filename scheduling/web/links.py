"""Where a holder's own page is, and what is said of it beside its strip."""

from __future__ import annotations

from django.urls import reverse

from scheduling.selectors.held import HeldSpan, Holder
from scheduling.templatetags.lehrbook import when
from studios.models import Studio


def holder_link(holder: Holder) -> str:
    """A session and a firing have a page; bench time stands among one's own seats."""
    if holder.face in {"session", "firing"}:
        return reverse(holder.face, args=[holder.uid])
    return reverse("my-seats") if holder.mine else ""


def said(held: HeldSpan, studio: Studio) -> str:
    """A holder in words: what, whose, from when to when."""
    start, end = (when(minute, studio.zone) for minute in held.span)
    whose = f", {held.holder.who}" if held.holder.who else ", taken" if held.holder.face == "bench" else ""
    return f"{held.holder.title}{whose}: {start} to {end}"
