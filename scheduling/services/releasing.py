"""Giving back what a session holds: its equipment, its places in firings, and the heat that it lent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.heat import lightable
from scheduling.engine.spans import Span, covers
from scheduling.engine.world import World
from scheduling.models import BookingStatus, Firing, Load, Occupancy, PersonSpan, Session
from scheduling.services.firings import take_out, tell_moved
from scheduling.services.holding import hot_parts, next_at, refit_anew, share_heat
from scheduling.services.messages import tell
from scheduling.services.refills import drop_unneeded
from scheduling.snapshot import horizon_around, load_world
from scheduling.wording import when
from studios.models import Studio
from studios.said import said
from studios.selectors import people_with

# Firings, with when each is cool and when it is unloaded.
Opens = dict[int, tuple[dt.datetime, dt.datetime]]


def release_held(session: Session) -> list[Occupancy]:
    """What a session held is free again, and what leant on its heat is made good.

    Returns what stays and would now have to be lit when it cannot be. Whose firing opens at another time is
    for the caller to tell (`opens_at`, `tell_whose_moved`).
    """
    world = load_world([session.studio], horizon_around(session.starts_at))
    held = list(session.booking.occupancies.values_list("equipment_id", flat=True))
    Occupancy.objects.filter(booking=session.booking).delete()
    PersonSpan.objects.filter(session=session).delete()
    core = (floor_minutes(session.starts_at), ceil_minutes(session.ends_at))
    cramped = share_heat(world, hot_parts(world, held), core)
    strained = [row for row in _following(world, held, core) if row in cramped or not _lightable(world, row)]
    for load in Load.objects.filter(session=session).select_related("firing__equipment__studio"):
        left = take_out(world, load)
        strained.extend([] if left.lightable else [left.firing.occupancy])
    drop_unneeded(world.supplies)
    return strained


def _following(world: World, held: Iterable[int], core: Span) -> list[Occupancy]:
    """What comes next at the hot stations that a session gives back."""
    found = (next_at(apparatus.id, core[1]) for apparatus in hot_parts(world, held))
    return [row for row in found if row is not None]


def _lightable(world: World, row: Occupancy) -> bool:
    span = floor_minutes(row.exclusive_from), ceil_minutes(row.exclusive_to)
    return covers(lightable(world, world.apparatus[row.equipment_id]), *span)


def still_strained(session: Session, rows: Iterable[Occupancy]) -> list[Occupancy]:
    """Those of some rows that must still be kept hot once the session has its equipment again."""
    world = load_world([session.studio], horizon_around(session.starts_at))
    firings = set(session.loads.values_list("firing_id", flat=True))
    found = []
    for row in Occupancy.objects.filter(pk__in=[row.pk for row in rows]).order_by("pk"):
        if row.firing_id is None:
            roomy = refit_anew(world, row)
            row.refresh_from_db()
            found.extend([] if roomy and _lightable(world, row) else [row])
        elif row.firing_id not in firings:
            found.append(row)
    return found


def tell_to_keep_hot(session: Session, row: Occupancy, *, why: str) -> None:
    """Heat that leant on a session that goes, and cannot be made when it must be, is a duty for somebody."""
    for person in people_with("enter-outage", session.studio):
        tell(
            person=person,
            subject=said("Light {equipment} early, or keep it hot", equipment=row.equipment.name),
            body=said(
                "{course} {why}, and {equipment} was hot from it. For what stays it would have to be lit "
                "at {when}, and cannot be then.",
                course=session.course.name,
                why=why,
                equipment=row.equipment.name,
                when=when(row.starts_at, session.studio),
            ),
        )


def lit_already(session: Session) -> list[str]:
    """What is hot for a session by now, by name."""
    rows = Occupancy.objects.filter(starts_at__lte=timezone.now(), phases__from_c__isnull=False)
    own = rows.filter(booking=session.booking) | rows.filter(firing__loads__session=session)
    return sorted(set(own.values_list("equipment__name", flat=True)))


def opens_at(studio: Studio) -> Opens:
    """When each firing at a studio that is not over is cool, and when it is unloaded."""
    rows = Firing.objects.filter(equipment__studio=studio, occupancy__ends_at__gt=timezone.now())
    return {key: (cool, unload) for key, cool, unload in rows.values_list("pk", "cool_at", "unload_at")}


def tell_whose_moved(before: Opens, *, but: Session | None = None) -> None:
    """Whoever has pieces in a firing that opens at another time than before is told, once for each."""
    rows = Firing.objects.filter(pk__in=before, status=BookingStatus.BOOKED)
    for firing in rows.select_related("equipment__studio").order_by("pk"):
        if before[firing.pk] != (firing.cool_at, firing.unload_at):
            tell_moved(firing, but=but)
