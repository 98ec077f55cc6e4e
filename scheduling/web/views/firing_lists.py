"""The loading list and the unloading list of a firing: on paper, with a picture of every shelf."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from scheduling.selectors.firing_lists import FiringList, firing_list
from scheduling.selectors.firings import firing_page
from scheduling.web.access import person_of, viewer_for
from scheduling.web.drawing.shelves import Standing
from scheduling.web.kiln_shelves import Stood, shelves_of
from scheduling.web.program_table import keyed
from scheduling.wording import temperature_unit


@login_required
@require_safe
def loading(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What goes in, where it stands, and the program that is keyed in."""
    found = _found(request, uid)
    page = firing_page(uid=uid, person=person_of(request), viewer=viewer_for(request))
    unit = str(temperature_unit(found.firing.equipment.studio))
    program = keyed(page.segments, unit) if page is not None else []
    return render(request, "web/loading_list.html", _context(found) | {"program": program, "page": page})


@login_required
@require_safe
def unloading(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What comes out, from where, and whose it is; damage is noted beside it."""
    return render(request, "web/unloading_list.html", _context(_found(request, uid)))


def _found(request: HttpRequest, uid: UUID) -> FiringList:
    found = firing_list(uid=uid, person=person_of(request))
    if found is None:
        raise Http404
    return found


def _context(found: FiringList) -> dict[str, Any]:
    kiln = found.firing.equipment
    several = len(found.loads) > 1
    first = found.loads[0] if found.loads else None
    return {
        "list": found,
        "firing": found.firing,
        "studio": kiln.studio,
        "zone": kiln.studio.zone,
        "unit": str(temperature_unit(kiln.studio)),
        "several": several,
        "shelves": shelves_of(kiln, _stood(found, first.letter if first is not None else "")),
    }


def _stood(found: FiringList, first: str) -> list[Stood]:
    """Where each piece stands; what the first load does not have is drawn otherwise."""
    return [
        Stood(
            level=stand.level,
            at=Standing(
                number=listed.mark,
                x_mm=stand.x_mm or 0,
                y_mm=stand.y_mm or 0,
                length_mm=stand.length_mm or 0,
                width_mm=stand.width_mm or 0,
                round=stand.round,
                other=load.letter != first,
            ),
        )
        for load in found.loads
        for listed in load.pieces
        if (stand := listed.stand).level is not None
    ]
