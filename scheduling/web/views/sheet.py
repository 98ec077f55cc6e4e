"""The week sheet."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import groupby
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from scheduling.engine.clock import floor_minutes
from scheduling.selectors.sheet import Sheet, Strip, StudioDays, sheet
from scheduling.web.access import person_of, studios_for, viewer_for
from scheduling.web.drawing import marks, strips
from scheduling.web.drawing.ground import Ground
from scheduling.web.links import holder_link, said
from scheduling.web.lists import zones_of
from scheduling.web.weeks import Stretch, read_stretch, week_name
from studios.models import EquipmentKind
from studios.selectors import studios_of


@dataclass(frozen=True, kw_only=True)
class Row:
    """A strip with its name beside it; the torches of a bench are one row. What has a `uid` has a page."""

    name: str
    note: str
    drawing: SafeString
    heated: bool = False
    uid: UUID | None = None


@dataclass(frozen=True, kw_only=True)
class StudioPart:
    """A studio on the page: its rows, and the same facts for the table."""

    days: StudioDays
    head: SafeString
    rows: tuple[Row, ...]
    supplies: tuple[Row, ...]


@login_required
@require_safe
def week(request: HttpRequest) -> HttpResponse:
    """Each piece of equipment over seven local days, or one; as strips and as a table."""
    studios = studios_for(request)
    stretch, problem = read_stretch(
        week=request.GET.get("week", ""),
        day=request.GET.get("day", ""),
        to=request.GET.get("to", ""),
        today=_today(studios.first()),
    )
    facts = sheet(
        studios=studios,
        first_day=stretch.first_day,
        day_count=stretch.day_count,
        viewer=viewer_for(request),
    )
    return render(request, "web/week.html", _context(request, facts, stretch, problem))


def _today(studio: object) -> dt.date:
    zone = getattr(studio, "zone", dt.UTC)
    return timezone.now().astimezone(zone).date()


def _context(request: HttpRequest, facts: Sheet, stretch: Stretch, problem: str) -> dict[str, object]:
    only = request.GET.get("studio", "")
    iso_year, iso_week, _ = stretch.first_day.isocalendar()
    now = floor_minutes(timezone.now())
    return {
        "sheet": facts,
        "parts": [_part(days, now, only) for days in facts.studios],
        "stretch": stretch,
        "earlier": stretch.moved(-1),
        "later": stretch.moved(1),
        "week": week_name(stretch.first_day),
        "iso_year": iso_year,
        "iso_week": iso_week,
        "zones": zones_of(days.studio for days in facts.studios),
        "problem": problem,
        "only": only,
        "all_studios": list(studios_of(person_of(request))),
        "definitions": mark_safe(marks.definitions(strips.HEIGHTS)),  # noqa: S308 - our own drawing
        "legend": _legend(facts),
    }


def _part(days: StudioDays, now: int, only: str) -> StudioPart:
    ground = Ground.over(days, now=now, link=holder_link, say=lambda held: said(held, days.studio))
    day_links = [f"{reverse('week')}?day={day}" + (f"&studio={only}" if only else "") for day, _ in days.days]
    return StudioPart(
        days=days,
        head=mark_safe(strips.head(ground, day_links)),  # noqa: S308
        rows=tuple(_rows(days, ground)),
        supplies=tuple(
            Row(
                name=one.name,
                note=f"most {one.peak:g} of {one.limit:g} {one.unit}",
                drawing=mark_safe(strips.supply(one, ground)),  # noqa: S308
            )
            for one in days.supplies
        ),
    )


def _rows(days: StudioDays, ground: Ground) -> list[Row]:
    rows = []
    for kind, group in groupby(days.strips, key=lambda one: one.kind):
        some = list(group)
        if kind == EquipmentKind.TORCH and len(some) > 1:
            rows.append(_torch_row(some, ground))
        else:
            rows += [_row(one, ground) for one in some]
    return rows


def _torch_row(torches: list[Strip], ground: Ground) -> Row:
    name = f"Torches {torches[0].number} to {torches[-1].number}"
    drawing = mark_safe(strips.lanes(torches, ground, name))  # noqa: S308
    return Row(name=name, note="one lane each", drawing=drawing)


def _row(one: Strip, ground: Ground) -> Row:
    kind = EquipmentKind(one.kind).label
    note = "" if kind in one.name.lower() else kind
    drawing = mark_safe(strips.strip(one, ground))  # noqa: S308
    heated = one.rest_c is not None
    return Row(name=one.name, note=note, drawing=drawing, heated=heated, uid=one.uid if heated else None)


def _legend(facts: Sheet) -> list[tuple[SafeString, str, str]]:
    shown = {
        phase.kind
        for days in facts.studios
        for strip in days.strips
        for held in strip.held
        for phase in held.phases
    }
    shown |= {marks.Phase.OUTAGE for days in facts.studios for strip in days.strips if strip.outages}
    return [
        (mark_safe(marks.swatch(kind)), kind.value, marks.SAID[kind])  # noqa: S308
        for kind in marks.MARKS
        if kind in shown
    ]
