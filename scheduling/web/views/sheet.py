"""The week sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from scheduling.engine.clock import floor_minutes
from scheduling.selectors.sheet import Sheet, sheet
from scheduling.templatetags.heat import PHASES
from scheduling.web.access import person_of, viewer_for
from scheduling.web.drawing import marks, strips
from scheduling.web.lists import zones_of
from scheduling.web.paper import paper_for
from scheduling.web.sheet_address import KINDS, SUPPLIES, Address, read_address
from scheduling.web.sheet_piece import details_of
from scheduling.web.sheet_rows import StudioPart, part_of
from studios.models import Person, Studio
from studios.selectors import memberships_of

Sample = tuple[SafeString, Promise | str, Promise | str]

GROUND = '<rect class="night" width="32" height="16"/><rect class="staffed" x="10" width="14" height="16"/>'
CURVE = '<path class="sample-curve" d="M1 14L8 3H14C18 3 20 13 31 14"/>'
LIMIT = '<path class="draw" d="M1 15V9H14V5H24V15Z"/><path class="limit" d="M0 2.5H32"/>'
BROKEN = f'<path class="break" d="M18 0{marks.BREAK}"/>'


@login_required
@require_safe
@vary_on_headers("HX-Request")
def week(request: HttpRequest) -> HttpResponse:
    """Each piece of equipment over seven local days, or one; as strips or as a table; a piece's details."""
    every = _studios(person_of(request))
    address, problem = read_address(request.GET, _today(every))
    facts = sheet(
        studios=_asked(every, address.studio),
        first_day=address.stretch.first_day,
        day_count=address.stretch.day_count,
        viewer=viewer_for(request),
    )
    now = floor_minutes(timezone.now())
    opened = details_of(facts, address, now) if address.piece else None
    if request.headers.get("HX-Request") and address.piece:
        return render(request, "web/_piece.html", {"piece": opened, "address": address})
    parts = [part_of(days, address, opened, now) for days in facts.studios]
    context = _context(facts, address, parts) | _around(facts, address, every)
    context |= {"opened": opened, "problem": problem}
    return render(request, "web/week.html", context)


def _studios(person: Person) -> list[Studio]:
    """The studios that open to a person, each once, by name; all of them to whoever runs the server."""
    if person.is_superuser:
        return list(Studio.objects.order_by("name", "id"))
    return list({row.studio_id: row.studio for row in memberships_of(person)}.values())


def _asked(every: Sequence[Studio], slug: str) -> list[Studio]:
    found = [studio for studio in every if slug in {"", studio.slug}]
    if slug and not found:
        raise Http404
    return found


def _today(studios: Sequence[Studio]) -> dt.date:
    zone = studios[0].zone if studios else dt.UTC
    return timezone.now().astimezone(zone).date()


def _context(facts: Sheet, address: Address, parts: Sequence[StudioPart]) -> dict[str, object]:
    iso = address.stretch.first_day.isocalendar()
    there = {strip.kind for days in facts.studios for strip in days.strips}
    there |= {SUPPLIES} if any(days.supplies for days in facts.studios) else set()
    return {
        "sheet": facts,
        "parts": parts,
        "address": address,
        "stretch": address.stretch,
        "iso": iso,
        "paper": paper_for([part.height for part in parts]),
        "kinds": [(kind, name, address.of(kind)) for kind, name in KINDS.items() if kind in there],
        "zones": zones_of(days.studio for days in facts.studios),
        "definitions": mark_safe(marks.definitions(strips.HEIGHTS)),  # noqa: S308 - our own drawing
        "legend": list(_legend(parts)),
    }


def _around(facts: Sheet, address: Address, every: Sequence[Studio]) -> dict[str, object]:
    """The studios that may be chosen, and the nearest days on which something is booked."""
    near = {"before": facts.before, "after": facts.after}
    return {
        "every": every,
        "studio_links": [(studio, address.at(studio.slug)) for studio in every],
        "near": {name: address.week_of(found.day) for name, found in near.items() if found},
    }


def _legend(parts: Sequence[StudioPart]) -> Iterator[Sample]:
    """Only what is seen on this sheet."""
    held = [one for part in parts for strip in part.strips for one in strip.held]
    shown = {phase.kind for one in held for phase in one.phases}
    shown |= {marks.Phase.OUTAGE for part in parts for strip in part.strips if strip.outages}
    for kind in marks.MARKS:
        if kind in shown:
            yield mark_safe(marks.swatch(kind)), PHASES[kind.value], marks.SAID[kind]  # noqa: S308
    if any(one.broken_at for one in held):
        yield _sample(BROKEN), _("broken"), _("broke off; to be annealed again")
    if any(part.rows for part in parts):
        yield _sample(GROUND), _("light ground"), _("somebody is there")
        yield _sample(CURVE), _("line"), _("temperature; its height is the heat")
    if any(row for part in parts for row in part.supplies):
        yield _sample(LIMIT), _("supply"), _("what is drawn, against the dashed limit")


def _sample(body: str) -> SafeString:
    return mark_safe(marks.sample(body))  # noqa: S308 - our own drawing
