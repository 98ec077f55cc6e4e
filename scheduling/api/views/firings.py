"""Firings and what is held: to be read."""

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
from scheduling.api.serializers.actuals import BreaksSerializer
from scheduling.api.serializers.firings import FiringLineSerializer, FiringSerializer, OccupancySerializer
from scheduling.api.strict import NeededWindow, Window, touching
from scheduling.models import BookingStatus, Firing, Occupancy
from scheduling.selectors import visible
from scheduling.services.reaching import breaks_of
from studios.models import Person
from studios.selectors import studios_of


class FiringQuery(Window, PageQuery):
    """Which firings."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    equipment = UidField(among=visible.equipment_of, what="equipment", required=False)
    status = serializers.ChoiceField(choices=BookingStatus.choices, required=False)


class OccupancyQuery(NeededWindow, PageQuery):
    """At which studio, when, and on what."""

    studio = SlugField(among=studios_of, what="studio")
    equipment = UidField(among=visible.equipment_of, what="equipment", required=False)


class FiringView(Resource):
    """The firings at your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=FiringLineSerializer, query=FiringQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Firing]:
        """Firings in order of time; cancelled ones too, unless `status` says otherwise."""
        found = visible.firings_of(person).filter(touching(given, starts="at_hold_at", ends="unload_at"))
        found = found.filter(**{name: given[name] for name in ("equipment", "status") if name in given})
        return found.filter(equipment__studio=given["studio"]) if "studio" in given else found

    @operation(answer=FiringSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Firing:
        """One firing with its program, its loads and its curve."""
        return get_object_or_404(visible.firings_of(person), uid=uid)

    @action(detail=True, methods=["get"])
    @operation(answer=BreaksSerializer)
    def breaks(self, person: Person, _given: dict[str, Any], uid: UUID) -> dict[str, Any]:
        """What a firing that runs longer than planned breaks, with the nearest repair of each booking."""
        firing = get_object_or_404(visible.firings_of(person), uid=uid)
        return breaks_of(actor=person, firing=firing)


class OccupancyView(Resource):
    """What is held at your studios."""

    @operation(answer=OccupancySerializer, query=OccupancyQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Occupancy]:
        """What holds the equipment of a studio in a stretch of time, with its phases."""
        found = visible.occupancies_of(person).filter(touching(given), equipment__studio=given["studio"])
        return found.filter(equipment=given["equipment"]) if "equipment" in given else found
