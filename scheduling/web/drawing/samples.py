"""Samples of the lines of a firing's drawing, for its legend: no line is told by its colour alone."""

from __future__ import annotations

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scheduling.selectors.firings import FiringPage
from scheduling.selectors.given_logs import LaidLog


def lines(page: FiringPage, *, log: LaidLog | None, marked: bool) -> list[tuple[SafeString, str]]:
    """What each line and mark stands for, as far as it is drawn."""
    found = [(_line("sample-curve"), _("what the equipment makes of it, worked out"))]
    if page.asked:
        found.append((_line("asked"), _("what is asked of it")))
    if marked:
        found.append((_sample('<path class="recorded-mark" d="M16 2l6 6l-6 6l-6 -6z"/>'), _("recorded")))
    if log is not None:
        found.append((_line("log-line"), _("the log")))
        if log.fit is not None:
            found.append((_line("fit-line"), _("fitted to the log")))
    if page.firing.broken_at is not None:
        found.append((_sample('<path class="broke" d="M16 0V16"/>'), _("broke off")))
    return found


def _line(style: str) -> SafeString:
    return _sample(f'<path class="{style}" d="M1 8H31"/>')


def _sample(drawn: str) -> SafeString:
    box = 'class="swatch" viewBox="0 0 32 16" width="32" height="16" aria-hidden="true"'
    return mark_safe(f"<svg {box}>{drawn}</svg>")  # noqa: S308 - our own drawing
