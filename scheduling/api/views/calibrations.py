"""Logs fitted to equipment, and the records that they become."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework.decorators import action

from scheduling.api.fields import SlugField, UidField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.parsing import LogParser
from scheduling.api.resource import Resource
from scheduling.api.serializers.calibrations import (
    AcceptedSerializer,
    AcceptFit,
    CalibrationLineSerializer,
    CalibrationSerializer,
    FitLog,
)
from scheduling.selectors import visible
from scheduling.selectors.calibrations import calibrations_of
from scheduling.services.calibrating import Accepted, accept_fit, fit_log
from studios.models import Calibration, Person
from studios.selectors import studios_of


class CalibrationQuery(PageQuery):
    """Which calibrations."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    equipment = UidField(among=visible.equipment_of, what="equipment", required=False)


class CalibrationView(Resource):
    """Logs that were fitted at the studios where you may calibrate."""

    parser_classes = (LogParser,)
    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=CalibrationLineSerializer, query=CalibrationQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Calibration]:
        """Fitted logs, the newest first."""
        found = calibrations_of(person)
        found = found.filter(equipment=given["equipment"]) if "equipment" in given else found
        return found.filter(equipment__studio=given["studio"]) if "studio" in given else found

    @operation(answer=CalibrationSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Calibration:
        """One fitted log, with what each of its fits would move from today on."""
        return _calibration(person, uid)

    @operation(answer=CalibrationSerializer, status=201, body=FitLog, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Calibration:
        """Fit a log to equipment. The record in force stays as it is until a fit is accepted."""
        return fit_log(actor=person, **given)

    @action(detail=True, methods=["post"])
    @operation(answer=AcceptedSerializer, status=201, body=AcceptFit, repeatable=True, refuses=(409, 422))
    def accept(self, person: Person, given: dict[str, Any], uid: UUID) -> Accepted:
        """Make a fit the record from a day on. Those already booked keep their hours and are listed."""
        return accept_fit(actor=person, calibration=_calibration(person, uid), **given)


def _calibration(person: Person, uid: UUID) -> Calibration:
    return get_object_or_404(calibrations_of(person), uid=uid)
