"""Weekly classes: read, booked, and called off."""

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
from scheduling.api.serializers.series import BookSeries, SeriesSerializer
from scheduling.models import Series
from scheduling.selectors import visible
from scheduling.services.cancelling import cancel_series
from scheduling.services.series import book_series
from studios.models import Person
from studios.selectors import studios_of


class SeriesQuery(PageQuery):
    """Which weekly classes."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    instructor = UidField(among=visible.instructors_of, what="instructor", required=False)


class SeriesView(Resource):
    """The weekly classes at your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=SeriesSerializer, query=SeriesQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Series]:
        """Weekly classes in order of their first day."""
        found = visible.series_of(person)
        return found.filter(**{name: given[name] for name in ("studio", "instructor") if name in given})

    @operation(answer=SeriesSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Series:
        """One weekly class with its meetings."""
        return get_object_or_404(visible.series_of(person), uid=uid)

    @operation(answer=SeriesSerializer, status=201, body=BookSeries, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Series:
        """Book a weekly class with all that each meeting holds: every week of it, or none."""
        wanted = {"instructor": person, **given}
        return get_object_or_404(visible.series_of(person), pk=book_series(actor=person, **wanted).pk)

    @action(detail=True, methods=["post"])
    @operation(answer=SeriesSerializer, repeatable=True, refuses=(409,))
    def cancel(self, person: Person, _given: dict[str, Any], uid: UUID) -> Series:
        """Call off all meetings to come, or none of them."""
        series = get_object_or_404(visible.series_of(person), uid=uid)
        cancel_series(actor=person, series=series)
        return get_object_or_404(visible.series_of(person), uid=uid)
