"""What is to be unloaded, what lies on the shelves, and what nobody has come for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from scheduling.models import BookingStatus, Collection, Firing, Load, PickUp, PieceState
from studios.models import Person, Studio
from studios.selectors import studios_where

# What is cool within so many hours is shown to whoever plans the day.
SOON = dt.timedelta(hours=18)
COLLECTED_SHOWN = dt.timedelta(days=7)
# Of a kiln job only what is ready lies on a shelf to be collected; the rest has a place by itself.
_WITHOUT_SHELF = Q(loads__job__isnull=True, loads__pick_up__isnull=True) | Q(
    loads__stands__piece__state=PieceState.IN_KILN
)


@dataclass(frozen=True, kw_only=True)
class Shelves:
    """One studio's pieces on their way back to whom they belong to."""

    studio: Studio
    to_unload: Sequence[Firing]
    without_shelf: Sequence[Firing]
    to_anneal_again: Sequence[Firing]
    waiting: Sequence[Collection]
    uncollected: Sequence[Collection]
    collected: Sequence[Collection]


def shelves_of(person: Person) -> list[Shelves]:
    """What whoever hands out pieces sees, for each of the studios where they do."""
    return [_shelves(studio) for studio in studios_where(person, "hand-out").order_by("name")]


def _shelves(studio: Studio) -> Shelves:
    now = timezone.now()
    firings = _firings().filter(equipment__studio=studio)
    inside = firings.filter(unloaded_at__isnull=True)
    open_ones = collections().filter(pick_up__load__firing__equipment__studio=studio)
    waiting = open_ones.filter(collected_at__isnull=True)
    # So many days by the studio's calendar: a change of clocks in between makes none of them longer.
    late = now.astimezone(studio.zone) - dt.timedelta(days=studio.uncollected_days)
    return Shelves(
        studio=studio,
        to_unload=list(
            inside.filter(broken_at__isnull=True, unload_at__lte=now + SOON).order_by("unload_at")
        ),
        without_shelf=list(
            firings.filter(unloaded_at__isnull=False, broken_at__isnull=True)
            .filter(_WITHOUT_SHELF)
            .distinct()
            .order_by("unloaded_at")
        ),
        to_anneal_again=list(firings.filter(broken_at__isnull=False).order_by("broken_at")),
        waiting=list(waiting.filter(pick_up__ready_at__gt=late)),
        uncollected=list(waiting.filter(pick_up__ready_at__lte=late)),
        collected=list(open_ones.filter(collected_at__gt=now - COLLECTED_SHOWN).order_by("-collected_at")),
    )


def _firings() -> QuerySet[Firing]:
    return (
        Firing.objects.filter(status=BookingStatus.BOOKED)
        .select_related("equipment__studio")
        .prefetch_related("loads__session__course", "loads__job", "loads__owner", "loads__pick_up")
    )


def collections() -> QuerySet[Collection]:
    """Everybody's pieces, the longest on the shelf first."""
    related = ("load__session__course", "load__job", "load__firing__equipment__studio")
    return Collection.objects.select_related(
        "person", "noted_by", *(f"pick_up__{name}" for name in related)
    ).order_by("pick_up__ready_at", "pk")


def collections_seen_by(person: Person) -> QuerySet[Collection]:
    """One's own pieces, and those of everybody at the studios where one hands them out."""
    minded = Q(pick_up__load__firing__equipment__studio__in=studios_where(person, "hand-out"))
    return collections().filter(Q(person=person) | minded)


def pick_ups_seen_by(person: Person) -> QuerySet[PickUp]:
    """Where one's own pieces lie, and everybody's at the studios where one hands them out."""
    minded = Q(load__firing__equipment__studio__in=studios_where(person, "hand-out"))
    related = ("load__session", "load__job", "load__firing__equipment__studio")
    return (
        PickUp.objects.filter(minded | Q(pk__in=Collection.objects.filter(person=person).values("pick_up")))
        .select_related(*related)
        .order_by("ready_at", "pk")
    )


def own_pieces(person: Person) -> QuerySet[Collection]:
    """Where a person's own pieces lie."""
    return collections().filter(person=person, collected_at__isnull=True)


def firings_handed_out_by(person: Person) -> QuerySet[Firing]:
    """The firings that a person may record of, and unload."""
    return _firings().filter(equipment__studio__in=studios_where(person, "record-actual"))


def shelves_named_at(studio: Studio) -> list[str]:
    """The shelves that were named at a studio lately, each once, the last one first."""
    rows = PickUp.objects.filter(load__firing__equipment__studio=studio).order_by("-recorded_at", "-pk")
    return list(dict.fromkeys(rows.values_list("shelf", flat=True)[:60]))[:12]


def loads_of(firing: Firing) -> QuerySet[Load]:
    """The loads of a firing with whose they are and where they lie."""
    return firing.loads.select_related("session__course", "job", "owner", "glass", "pick_up").order_by("pk")
