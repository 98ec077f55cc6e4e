"""What is asked before a seat is booked: safety texts that are read, and earlier courses."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework.decorators import action

from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.promises import (
    Acknowledge,
    AcknowledgementSerializer,
    EarlierCourseSerializer,
    SafetyTextSerializer,
    Vouch,
)
from scheduling.models import EarlierCourse
from scheduling.selectors.earlier import VOUCHES, vouched_at, vouched_where
from scheduling.selectors.safety import read_by, texts_of
from scheduling.services.earlier import take_back, vouch
from scheduling.services.safety import acknowledge
from studios.models import Acknowledgement, Person, SafetyText
from studios.selectors import may


class SafetyTextView(Resource):
    """The safety texts of your studios."""

    @operation(answer=SafetyTextSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[SafetyText]:
        """Every version that has begun, the newest of each studio first: that one is in force."""
        return texts_of(person)


class AcknowledgementView(Resource):
    """The safety texts that you have read."""

    @operation(answer=AcknowledgementSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[Acknowledgement]:
        """Your own, the last first."""
        return read_by(person)

    @operation(
        answer=AcknowledgementSerializer, status=201, body=Acknowledge, repeatable=True, refuses=(409, 422)
    )
    def create(self, person: Person, given: dict[str, Any]) -> Acknowledgement:
        """Say that you have read the text in force; a second time changes nothing."""
        return acknowledge(person=person, **given)


class EarlierCourseView(Resource):
    """Earlier courses for which somebody vouches."""

    @operation(answer=EarlierCourseSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> QuerySet[EarlierCourse]:
        """Those of the people of the studios where you vouch, and your own."""
        return vouched_where(person)

    @operation(answer=EarlierCourseSerializer, status=201, body=Vouch, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> EarlierCourse:
        """Vouch that somebody has taken a course; a second time changes nothing."""
        return vouch(actor=person, **given)

    @action(detail=False, methods=["post"], url_path="take-back")
    @operation(status=204, body=Vouch, repeatable=True, refuses=(404, 409, 422))
    def take_back(self, person: Person, given: dict[str, Any]) -> None:
        """It counts no longer; seats that are booked stand."""
        earlier = vouched_at(given["studio"]).filter(person=given["person"], course=given["course"])
        if not may(person, VOUCHES, given["studio"]):
            earlier = earlier.filter(person=person)
        take_back(actor=person, earlier=get_object_or_404(earlier))
