"""Calendar links: whose they are, what they may show, and the calendar that each shows now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import QuerySet

from scheduling.ical.event import CalendarEvent, CalendarFile, EventKind
from scheduling.models import About, FeedKey
from scheduling.selectors.calendar import Window, home_zone, next_midnight, rolling_window, within
from scheduling.selectors.held import viewer_of
from scheduling.selectors.own_events import own_events
from scheduling.selectors.studio_events import duty_events, equipment_events, studio_events
from studios.models import Person, Studio
from studios.said import marked
from studios.selectors import may, studios_where

# The kinds that are in each calendar, and of which some can be chosen; duties are of one kind.
OWN = (EventKind.CLASS, EventKind.SEAT, EventKind.FIRING, EventKind.DUTY, EventKind.PICK_UP)
HELD = (EventKind.CLASS, EventKind.SEAT, EventKind.FIRING, EventKind.CHARGE, EventKind.OUTAGE)
KINDS = {About.PERSON: OWN, About.STUDIO: HELD, About.EQUIPMENT: HELD, About.DUTIES: (EventKind.DUTY,)}
# A studio's calendar shows what its sheet shows. Who is named in the duties is for those who mind them.
ALLOWED_BY = {About.STUDIO: "see", About.EQUIPMENT: "see", About.DUTIES: "see-names"}


@dataclass(frozen=True, kw_only=True)
class Rolling:
    """A calendar as it is today: its file, the days it is of, and when they move on."""

    file: CalendarFile
    window: Window
    good_until: dt.datetime


def links_of(person: Person) -> QuerySet[FeedKey]:
    """The links of a person that were not withdrawn."""
    links = FeedKey.objects.filter(person=person, revoked_at__isnull=True)
    return links.select_related("person", "studio", "equipment__studio").order_by("created_at", "id")


def duty_studios_of(person: Person) -> QuerySet[Studio]:
    """The studios whose duties a person may follow."""
    return studios_where(person, ALLOWED_BY[About.DUTIES]).order_by("name")


def place_of_link(link: FeedKey) -> Studio | None:
    """The studio that a link is about, or in which its equipment stands."""
    return link.equipment.studio if link.equipment else link.studio


def may_follow(person: Person, about: About, studio: Studio | None) -> bool:
    """The own week is everybody's own; a studio is for those who see its sheet with what is shown of it."""
    if not person.is_active:
        return False
    return studio is None or may(person, ALLOWED_BY[about], studio)


def rolling_calendar(link: FeedKey, now: dt.datetime) -> Rolling | None:
    """What a link shows today; None where its owner may no longer see that."""
    about, studio = About(link.about), place_of_link(link)
    if not may_follow(link.person, about, studio):
        return None
    zone = studio.zone if studio else home_zone(link.person)
    window = rolling_window(zone, now)
    shown = set(link.shows or KINDS[about])
    events = within(
        (event for event in _events(link, window) if event.kind in shown), window.from_at, window.to_at
    )
    return Rolling(file=_file(link, events), window=window, good_until=next_midnight(zone, now))


def _events(link: FeedKey, window: Window) -> Iterator[CalendarEvent]:
    span = window.from_at, window.to_at
    if link.equipment:
        yield from equipment_events(link.equipment, viewer_of(link.person), *span)
    elif link.studio is None:
        yield from own_events(link.person, *span, whole_series=True, alarm_min=link.alarm_min)
    elif link.about == About.DUTIES:
        yield from duty_events(link.studio, viewer_of(link.person), *span, alarm_min=link.alarm_min)
    else:
        yield from studio_events(link.studio, viewer_of(link.person), *span)


def _file(link: FeedKey, events: list[CalendarEvent]) -> CalendarFile:
    return CalendarFile(
        name=f"Lehrbook: {said_of(link)}",
        description=f"{_listed(link.shows or KINDS[About(link.about)])}.",
        events=events,
        changed_at=max((event.changed_at for event in events), default=None),
    )


def said_of(link: FeedKey) -> str:
    """What a link is about, in a few words: Vera, Quillback, Annealer 1 at Quillback, duties at Quillback."""
    if link.equipment:
        return f"{link.equipment.name} at {link.equipment.studio.name}"
    if link.studio is None:
        return link.person.name
    return f"duties at {link.studio.name}" if link.about == About.DUTIES else link.studio.name


PLURAL = {
    EventKind.CLASS: marked("classes"),
    EventKind.SEAT: marked("seats"),
    EventKind.FIRING: marked("firings"),
    EventKind.DUTY: marked("duties"),
    EventKind.PICK_UP: marked("pick-up"),
    EventKind.CHARGE: marked("charges"),
    EventKind.OUTAGE: marked("outages"),
}


def _listed(kinds: Iterable[str]) -> str:
    """Classes, seats and firings."""
    *most, last = (PLURAL[EventKind(kind)] for kind in kinds)
    return (f"{', '.join(most)} and {last}" if most else last).capitalize()
