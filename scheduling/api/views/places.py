"""Studios, equipment, supplies, glasses and courses: to be read."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers

from scheduling.api.fields import SlugField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.courses import CourseSerializer
from scheduling.api.serializers.places import (
    EquipmentSerializer,
    GlassSerializer,
    StudioSerializer,
    SupplySerializer,
)
from scheduling.models import Course
from scheduling.selectors import visible
from studios.models import Equipment, EquipmentKind, GlassType, Person, Studio, Supply
from studios.selectors import studios_of


class AtStudio(PageQuery):
    """Those of one studio, or of all of yours."""

    studio = SlugField(among=studios_of, what="studio", required=False)


class EquipmentQuery(AtStudio):
    """Of one studio or one kind."""

    kind = serializers.ChoiceField(choices=EquipmentKind.choices, required=False)


class StudioView(Resource):
    """Your studios."""

    lookup_field = "slug"
    lookup_value_converter = "slug"

    @operation(answer=StudioSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[Studio]:
        """Your studios, with their hours and rules."""
        return _studios(person)

    @operation(answer=StudioSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], slug: str) -> Studio:
        """One studio."""
        return get_object_or_404(_studios(person), slug=slug)


def _studios(person: Person) -> QuerySet[Studio]:
    found = studios_of(person).prefetch_related(
        "staffed_hours", "bench_hours", "closures", "seasons", "own_processes"
    )
    return found.order_by("slug")


class EquipmentView(Resource):
    """The equipment of your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=EquipmentSerializer, query=EquipmentQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Equipment]:
        """Equipment with its thermal record and draws."""
        found = visible.equipment_of(person)
        return found.filter(**{name: given[name] for name in ("studio", "kind") if name in given})

    @operation(answer=EquipmentSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: str) -> Equipment:
        """One piece of equipment."""
        return get_object_or_404(visible.equipment_of(person), uid=uid)


class SupplyView(Resource):
    """The supplies of your studios."""

    @operation(answer=SupplySerializer, query=AtStudio, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Supply]:
        """Supplies with their greatest rates."""
        found = visible.supplies_of(person)
        return found.filter(studio=given["studio"]) if "studio" in given else found


class GlassView(Resource):
    """What the courses are made of; the same at every studio."""

    lookup_field = "slug"
    lookup_value_converter = "slug"

    @operation(answer=GlassSerializer, query=PageQuery, paged=True)
    def list(self, _person: Person, _given: dict[str, Any]) -> QuerySet[GlassType]:
        """Glasses with their points, properties and sources."""
        return GlassType.objects.order_by("slug")

    @operation(answer=GlassSerializer, detail=True)
    def retrieve(self, _person: Person, _given: dict[str, Any], slug: str) -> GlassType:
        """One glass."""
        return get_object_or_404(GlassType, slug=slug)


class CourseView(Resource):
    """The courses of your studios."""

    lookup_field = "slug"
    lookup_value_converter = "slug"

    @operation(answer=CourseSerializer, query=AtStudio, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Course]:
        """Courses with what they need."""
        found = visible.courses_of(person)
        # As a subquery: a second join would show a course once for each of its studios.
        return found.filter(pk__in=given["studio"].courses.values("pk")) if "studio" in given else found

    @operation(answer=CourseSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], slug: str) -> Course:
        """One course."""
        return get_object_or_404(visible.courses_of(person), slug=slug)
