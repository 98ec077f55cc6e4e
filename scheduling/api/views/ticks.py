"""The day's round: its duties, and what of them somebody has seen to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework.decorators import action

from scheduling.api.fields import DayField, SlugField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.ticks import DutySerializer, SetTick, TickedSerializer, TickSerializer
from scheduling.models import Tick
from scheduling.selectors.round import Line, lines_on, ticks_seen_by
from scheduling.services.ticks import Ticked, require_ticker, take_back, tick_duty
from studios.models import Person
from studios.selectors import studios_of


class DutyQuery(PageQuery):
    """Of which studio, on which day."""

    studio = SlugField(among=studios_of, what="studio")
    day = DayField(help_text="By the studio's calendar.")


class DutyView(Resource):
    """What is to be done at a studio where you work."""

    @operation(answer=DutySerializer, query=DutyQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> Sequence[Line]:
        """What begins on one day, in order of time, with what of it is done."""
        require_ticker(person, given["studio"])
        return lines_on(given["studio"], given["day"])


class TickQuery(PageQuery):
    """Of which studio."""

    studio = SlugField(among=studios_of, what="studio", required=False)


class TickView(Resource):
    """What somebody has seen to at the studios where you work."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=TickSerializer, query=TickQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Tick]:
        """Ticks by when the duty was due; those taken back, too."""
        found = ticks_seen_by(person)
        return found.filter(studio=given["studio"]) if "studio" in given else found

    @operation(answer=TickedSerializer, status=201, body=SetTick, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Ticked:
        """Tick duties; with `record`, what really happened is recorded in the same step."""
        return tick_duty(actor=person, **given)

    @action(detail=True, methods=["post"], url_path="take-back")
    @operation(answer=TickSerializer, repeatable=True, refuses=(409, 422))
    def take_back(self, person: Person, _given: dict[str, Any], uid: UUID) -> Tick:
        """Take back a tick set by mistake: it stays, and counts no more; what it recorded is struck."""
        tick = get_object_or_404(ticks_seen_by(person), uid=uid)
        take_back(actor=person, ticks=[tick])
        return tick
