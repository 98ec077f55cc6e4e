"""What is to come at one piece of equipment, and how it behaves in words that are measured in hours."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.models import About, FeedKey, Occupancy, Outage
from scheduling.selectors.feed_links import links_of
from scheduling.selectors.held import HeldSpan, Viewer, promised_between
from studios.models import Equipment, EquipmentKind, Person
from studios.thermal import Body, holding_kwh
from studios.thermal.energy import holding_kw
from studios.thermal.motion import cool_down_curve, heat_up_curve

MOST_AHEAD = 8
# A kiln or an annealer is told at about the heat at which glass is annealed.
TOLD_AT_C = 500.0
DAY_MIN = 24 * 60.0
OPENED = frozenset({EquipmentKind.KILN, EquipmentKind.ANNEALER})
HEATED = OPENED | {EquipmentKind.FURNACE, EquipmentKind.GLORY_HOLE, EquipmentKind.PIPE_WARMER}


def held_ahead(equipment: Equipment, viewer: Viewer) -> list[HeldSpan]:
    """What holds it now and next, in order of its start; seats that are only kept are left out.

    What takes several of its places at once is said once.
    """
    now = timezone.now()
    coming = Occupancy.objects.filter(equipment=equipment, ends_at__gt=now).order_by("starts_at", "id")
    ends = list(coming.values_list("ends_at", flat=True)[: 2 * MOST_AHEAD])
    if not ends:
        return []
    span = (floor_minutes(now), ceil_minutes(max(ends)))
    held = promised_between(equipment=Q(equipment=equipment), span=span, viewer=viewer)
    return list({(one.holder, one.span): one for one in held}.values())[:MOST_AHEAD]


def outages_ahead(equipment: Equipment) -> QuerySet[Outage]:
    """When it is out of use, from now on."""
    return Outage.objects.filter(equipment=equipment, ends_at__gt=timezone.now()).order_by("starts_at", "id")


def link_about(equipment: Equipment, person: Person) -> FeedKey | None:
    """The calendar link that somebody has made about it already."""
    return links_of(person).filter(about=About.EQUIPMENT, equipment=equipment).first()


@dataclass(frozen=True, kw_only=True)
class Behaviour:
    """How a body behaves about a temperature: up to it, held at it, and down from it by itself."""

    hot_c: float
    cold_c: float
    up_min: int | None
    down_min: int | None
    falls_c_per_h: float
    hold_kw: float
    day_kwh: float


def behaviour_of(equipment: Equipment, body: Body) -> Behaviour:
    """At its working temperature, or where glass is annealed; never hotter than it gets."""
    asked_c = equipment.working_c or TOLD_AT_C
    hot_c = min(asked_c, (body.ceiling_c + body.ambient_c) / 2) if asked_c >= body.ceiling_c else asked_c
    cold_c = body.opening_c if equipment.kind in OPENED else equipment.touch_c
    cools = body.ambient_c < cold_c < hot_c
    rises = hot_c > body.ambient_c
    up = heat_up_curve(body, from_c=body.ambient_c, to_c=hot_c).whole_min if rises else None
    down = cool_down_curve(body, from_c=hot_c, to_c=cold_c).whole_min if cools else None
    return Behaviour(
        hot_c=hot_c,
        cold_c=cold_c,
        up_min=up,
        down_min=down,
        falls_c_per_h=body.fastest_cooling_c_per_h(hot_c, hot_c),
        hold_kw=holding_kw(body, hot_c),
        day_kwh=holding_kwh(body, hot_c, DAY_MIN),
    )
