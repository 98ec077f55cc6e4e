"""Outages and calendar links."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework.decorators import action

from scheduling.api.fields import SlugField, UidField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.changes import BrokenListSerializer, EndOutage
from scheduling.api.serializers.duties import EnterOutage, FeedKeySerializer, MakeFeedKey, OutageSerializer
from scheduling.api.strict import Window, touching
from scheduling.models import FeedKey, Outage
from scheduling.selectors import visible
from scheduling.selectors.feed_links import links_of
from scheduling.services.calendars import new_feed_key, withdraw_feed_key
from scheduling.services.outages import end_outage, enter_outage, withdraw_outage
from scheduling.services.repairing import broken_with_repairs
from studios.models import Person
from studios.selectors import studios_of


class OutageQuery(Window, PageQuery):
    """Which outages."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    equipment = UidField(among=visible.equipment_of, what="equipment", required=False)


class OutageView(Resource):
    """The outages at your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=OutageSerializer, query=OutageQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Outage]:
        """Outages in order of time."""
        found = visible.outages_of(person).filter(touching(given))
        found = found.filter(equipment=given["equipment"]) if "equipment" in given else found
        return found.filter(equipment__studio=given["studio"]) if "studio" in given else found

    @operation(answer=OutageSerializer, status=201, body=EnterOutage, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Outage:
        """Enter an outage: nothing new is booked on the equipment in these hours."""
        return enter_outage(actor=person, **given)

    @operation(status=204, repeatable=True, refuses=(409,))
    def destroy(self, person: Person, _given: dict[str, Any], uid: UUID) -> None:
        """Withdraw an outage that does not come: it is as if it had never been entered."""
        withdraw_outage(actor=person, outage=_outage(person, uid))

    @action(detail=True, methods=["post"])
    @operation(answer=OutageSerializer, body=EndOutage, repeatable=True, refuses=(409,))
    def end(self, person: Person, given: dict[str, Any], uid: UUID) -> Outage:
        """Equipment is in use again before its outage was to end."""
        return end_outage(actor=person, outage=_outage(person, uid), **given)

    @action(detail=True, methods=["get"])
    @operation(answer=BrokenListSerializer)
    def broken(self, person: Person, _given: dict[str, Any], uid: UUID) -> dict[str, Any]:
        """What an outage breaks, each booking with its nearest repair; nobody is told by looking."""
        return {"broken": broken_with_repairs(actor=person, outage=_outage(person, uid))}


def _outage(person: Person, uid: UUID) -> Outage:
    return get_object_or_404(visible.outages_of(person), uid=uid)


class FeedKeyView(Resource):
    """Your secret calendar links."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=FeedKeySerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[FeedKey]:
        """Your links that still show something."""
        return links_of(person)

    @operation(answer=FeedKeySerializer, status=201, body=MakeFeedKey, repeatable=True)
    def create(self, person: Person, given: dict[str, Any]) -> FeedKey:
        """Make a link: to your week, a studio, its duties or a piece of equipment. Keep it to yourself."""
        return new_feed_key(actor=person, **given)

    @operation(status=204, repeatable=True)
    def destroy(self, person: Person, _given: dict[str, Any], uid: UUID) -> None:
        """Withdraw a link: from now on it shows nothing."""
        feed_key = get_object_or_404(person.feed_keys.all(), uid=uid)
        withdraw_feed_key(actor=person, feed_key=feed_key)
