"""Refills of supplies and charges of furnaces."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action

from scheduling.api.fields import InstantField, SlugField, UidField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.stores import (
    BookCharge,
    ChargeProposalSerializer,
    ChargeSerializer,
    MeasuredSerializer,
    MeasurePot,
    PotLevelSerializer,
    RecordRefill,
    RefillSerializer,
    StruckSerializer,
)
from scheduling.api.strict import Query, Window, touching
from scheduling.models import BookingStatus, Charge, Refill, RefillStatus
from scheduling.selectors import visible
from scheduling.selectors.stores import ChargeProposal, charge_proposal
from scheduling.services.charges import Measured, book_charge, cancel_charge, measure_pot
from scheduling.services.refills import record_refill, strike_refill
from studios.models import Person
from studios.selectors import studios_of


class RefillQuery(PageQuery):
    """Which refills."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    supply = UidField(among=visible.supplies_of, what="supply", required=False)
    status = serializers.ChoiceField(choices=RefillStatus.choices, required=False)


class RefillView(Resource):
    """Deliveries and change-overs of the supplies of your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=RefillSerializer, query=RefillQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Refill]:
        """Refills in order of time: those recorded, and the change-overs that are due."""
        found = visible.refills_of(person)
        found = found.filter(**{name: given[name] for name in ("supply", "status") if name in given})
        return found.filter(supply__studio=given["studio"]) if "studio" in given else found

    @operation(answer=RefillSerializer, status=201, body=RecordRefill, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Refill:
        """Record a delivery or a change-over, done or to come."""
        return record_refill(actor=person, **given)

    @action(detail=True, methods=["post"])
    @operation(answer=StruckSerializer, repeatable=True, refuses=(409,))
    def strike(self, person: Person, _given: dict[str, Any], uid: UUID) -> dict[str, Any]:
        """Strike a planned delivery or change-over that does not come, and see what then runs dry."""
        refill = get_object_or_404(visible.refills_of(person), uid=uid)
        return {"runs_dry": strike_refill(actor=person, refill=refill)}


class ChargeQuery(Window, PageQuery):
    """Which charges."""

    studio = SlugField(among=studios_of, what="studio", required=False)
    furnace = UidField(among=visible.furnaces_of, what="furnace", required=False)
    status = serializers.ChoiceField(choices=BookingStatus.choices, required=False)


class ChargeView(Resource):
    """The charges of the furnaces of your studios."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=ChargeSerializer, query=ChargeQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Charge]:
        """Charges in order of time; cancelled ones too, unless `status` says otherwise."""
        found = visible.charges_of(person).filter(touching(given))
        found = found.filter(**{name: given[name] for name in ("furnace", "status") if name in given})
        return found.filter(furnace__studio=given["studio"]) if "studio" in given else found

    @operation(answer=ChargeSerializer, status=201, body=BookCharge, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Charge:
        """Book a whole charge: every place of the furnace is taken until it has come down again."""
        return book_charge(actor=person, **given)

    @action(detail=True, methods=["post"])
    @operation(answer=ChargeSerializer, repeatable=True, refuses=(409,))
    def cancel(self, person: Person, _given: dict[str, Any], uid: UUID) -> Charge:
        """Call off a charge that has not started and whose glass is not sold."""
        charge = get_object_or_404(visible.charges_of(person), uid=uid)
        return cancel_charge(actor=person, charge=charge)


class PotLevelQuery(PageQuery):
    """Of which furnace."""

    furnace = UidField(among=visible.furnaces_of, what="furnace", required=False)


class PotLevelView(Resource):
    """The levels of glass, as measured, in the furnaces of your studios."""

    @operation(answer=PotLevelSerializer, query=PotLevelQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Charge]:
        """The levels that were measured, in order of time."""
        found = visible.pot_levels_of(person)
        return found.filter(furnace=given["furnace"]) if "furnace" in given else found

    @operation(answer=MeasuredSerializer, status=201, body=MeasurePot, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> Measured:
        """Enter a level as measured: it counts from that minute on. What is booked stands."""
        return measure_pot(actor=person, **given)


class ProposalQuery(Query):
    """For which furnace, and by when it must be usable again."""

    furnace = UidField(among=visible.furnaces_of, what="furnace")
    ends_by = InstantField(required=False)


class ChargeProposalView(Resource):
    """When a furnace can be charged."""

    @operation(answer=ChargeProposalSerializer, query=ProposalQuery, refuses=(409,))
    def list(self, _person: Person, given: dict[str, Any]) -> ChargeProposal:
        """What the pot holds, and the earliest whole charge that fits."""
        return charge_proposal(**given)
