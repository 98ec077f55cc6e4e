"""What really happened in firings, what it breaks, and pieces handed back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action

from scheduling.api.fields import SlugField, UidField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.actuals import (
    ActualSerializer,
    CollectionSerializer,
    MarkCollected,
    PickUpSerializer,
    RecordActual,
    RecordedSerializer,
    UnloadFiring,
)
from scheduling.errors import InvalidInput
from scheduling.models import Actual, Collection, Firing, Load, PickUp
from scheduling.selectors import visible
from scheduling.selectors.actuals import actuals_seen_by
from scheduling.selectors.pick_up import collections_seen_by, pick_ups_seen_by
from scheduling.services.actuals import Recorded, record_actual, strike_actual
from scheduling.services.pick_up import mark_collected, unload
from studios.models import Person
from studios.selectors import studios_of


class ActualQuery(PageQuery):
    """Of which firing."""

    firing = UidField(among=visible.firings_of, what="firing", required=False)


class ActualView(Resource):
    """What was recorded at your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=ActualSerializer, query=ActualQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Actual]:
        """What was recorded, in order of time; struck records too."""
        found = actuals_seen_by(person)
        return found.filter(firing=given["firing"]) if "firing" in given else found

    @operation(answer=RecordedSerializer, status=201, body=RecordActual, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Recorded:
        """Record what happened in a firing: its hours follow from all that stands recorded."""
        return record_actual(actor=person, **given)

    @action(detail=True, methods=["post"])
    @operation(answer=RecordedSerializer, repeatable=True, refuses=(409, 422))
    def strike(self, person: Person, _given: dict[str, Any], uid: UUID) -> Recorded:
        """Strike what was entered by mistake: it stays, and counts no more."""
        return strike_actual(actor=person, actual=get_object_or_404(actuals_seen_by(person), uid=uid))


class PickUpView(Resource):
    """Where pieces lie at your studios."""

    @operation(answer=PickUpSerializer, query=ActualQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[PickUp]:
        """The shelves of what is unloaded: of everything where you hand it out, else of your own pieces."""
        found = pick_ups_seen_by(person)
        return found.filter(load__firing=given["firing"]) if "firing" in given else found

    @operation(status=204, body=UnloadFiring, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> None:
        """Take a firing out, each load onto its shelf: whoever made the pieces is told once."""
        firing = given["firing"]
        unload(actor=person, firing=firing, shelves=_shelves(firing, given["shelves"]), at=given.get("at"))


def _shelves(firing: Firing, lines: list[dict[str, Any]]) -> dict[Load, str]:
    """The loads that are meant. Raises InvalidInput."""
    by_session = {
        load.session.uid if load.session else None: load for load in firing.loads.select_related("session")
    }
    for line in lines:
        if line["session"] not in by_session:
            raise InvalidInput(field="shelves", problem=f"Nothing of {line['session']} is in this firing.")
    return {by_session[line["session"]]: line["shelf"] for line in lines}


class CollectionQuery(PageQuery):
    """Whose, and which."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    collected = serializers.BooleanField(required=False)


class CollectionView(Resource):
    """Pieces to be collected: yours, and everybody's where you hand them out."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=CollectionSerializer, query=CollectionQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Collection]:
        """The longest on the shelf first; `collected` leaves out the others."""
        found = collections_seen_by(person)
        if "studio" in given:
            found = found.filter(pick_up__load__firing__equipment__studio=given["studio"])
        return found.filter(collected_at__isnull=not given["collected"]) if "collected" in given else found

    @action(detail=True, methods=["post"])
    @operation(answer=CollectionSerializer, body=MarkCollected, repeatable=True, refuses=(409,))
    def mark(self, person: Person, given: dict[str, Any], uid: UUID) -> Collection:
        """Note that the pieces were handed over, or were not after all."""
        collection = get_object_or_404(collections_seen_by(person), uid=uid)
        return mark_collected(actor=person, collection=collection, collected=given["collected"])
