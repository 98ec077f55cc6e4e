"""Calendars that instructors keep elsewhere, whose hours are kept free of classes."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework.decorators import action

from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.parsing import LogParser
from scheduling.api.resource import Resource
from scheduling.api.serializers.other_calendars import GiveCalendar, OtherCalendarSerializer
from scheduling.models import OtherCalendar
from scheduling.selectors.other_calendars import with_busy_time
from scheduling.services.other_calendars import add_file, add_link, read_again, read_file, remove
from studios.models import Person


def read_what_was_sent(person: Person, given: dict[str, Any]) -> dict[str, Any]:
    """The content is read in a process of its own, for as long as that takes; nobody waits meanwhile."""
    if "content" not in given:
        return given
    reading = read_file(actor=person, content=given["content"].encode())
    return {"label": given["label"], "reading": reading}


class OtherCalendarView(Resource):
    """The calendars that you keep elsewhere. Nobody is shown what stands in them, only that you are busy."""

    parser_classes = (LogParser,)  # a calendar may be as long as a log
    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=OtherCalendarSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[OtherCalendar]:
        """Your other calendars, the oldest first."""
        return with_busy_time(person.other_calendars.all(), timezone.now())

    @operation(
        answer=OtherCalendarSerializer,
        status=201,
        body=GiveCalendar,
        repeatable=True,
        refuses=(409, 422),
        prepare=read_what_was_sent,
    )
    def create(self, person: Person, given: dict[str, Any]) -> OtherCalendar:
        """Have a calendar read: its hours are not offered to be taught in. For whoever teaches at a studio.

        A broken calendar is refused whole (422), with the line and the reason.
        """
        given_by = add_file if "reading" in given else add_link
        return _shown(given_by(actor=person, **given))

    @operation(status=204, repeatable=True)
    def destroy(self, person: Person, _given: dict[str, Any], uid: UUID) -> None:
        """Take a calendar away: its hours are free again."""
        remove(actor=person, calendar=_own(person, uid))

    @action(detail=True, methods=["post"], url_path="read-again")
    @operation(answer=OtherCalendarSerializer, repeatable=True)
    def read_again(self, person: Person, _given: dict[str, Any], uid: UUID) -> OtherCalendar:
        """Have a calendar read by the next round, within a minute or so."""
        return _shown(read_again(actor=person, calendar=_own(person, uid)))


def _own(person: Person, uid: UUID) -> OtherCalendar:
    return get_object_or_404(person.other_calendars.all(), uid=uid)


def _shown(calendar: OtherCalendar) -> OtherCalendar:
    """With the time that it takes."""
    return with_busy_time(OtherCalendar.objects.filter(pk=calendar.pk), timezone.now()).get()
