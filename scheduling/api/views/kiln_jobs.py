"""Kiln jobs: asked, answered, booked; open shelf space; pieces on their way; moulds."""

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
from scheduling.api.serializers.kiln_jobs import (
    AddPieces,
    AskKilnJob,
    KilnAnswerSerializer,
    KilnJobSerializer,
    MouldSerializer,
    OpenedFiringSerializer,
    OpenFiringBody,
    OpenFiringSerializer,
    SeekAnswer,
)
from scheduling.models import Firing, KilnAnswer, KilnJob, KilnJobStatus
from scheduling.selectors import visible
from scheduling.selectors.kiln_jobs import jobs_minded_by, jobs_seen_by
from scheduling.selectors.open_space import OpenFiring, open_firings
from scheduling.services.kiln_answers import set_out, stop
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.kiln_jobs import arrived, ask_for
from scheduling.services.offered_space import offer, withdraw
from scheduling.services.open_shelves import add_pieces
from studios.models import Mould, Person
from studios.selectors import studios_of


class AtStudio(PageQuery):
    """At which of your studios."""

    studio = SlugField(among=studios_of, what="studio", required=False)


class MouldView(Resource):
    """The moulds of your studios."""

    @operation(answer=MouldSerializer, query=AtStudio, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Mould]:
        """Moulds by studio and name, also those out of use."""
        found = visible.moulds_of(person)
        return found.filter(studio=given["studio"]) if "studio" in given else found


class JobQuery(AtStudio):
    """Which kiln jobs."""

    status = serializers.ChoiceField(choices=KilnJobStatus.choices, required=False)


class KilnJobView(Resource):
    """Your kiln jobs, those with a piece of yours, and those of the studios where you book kilns."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=KilnJobSerializer, query=JobQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[KilnJob]:
        """Kiln jobs, the latest first."""
        found = _whole(jobs_seen_by(person))
        found = found.filter(studios=given["studio"]) if "studio" in given else found
        return found.filter(status=given["status"]) if "status" in given else found

    @operation(answer=KilnJobSerializer, detail=True)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> KilnJob:
        """One kiln job, with its loads and its handwork."""
        return get_object_or_404(_whole(jobs_seen_by(person)), uid=uid)

    @operation(answer=KilnJobSerializer, status=201, body=AskKilnJob, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> KilnJob:
        """Ask for pieces to be fired: each gets its label. Nothing is held until a plan is booked."""
        return _again(ask_for(actor=person, **given))

    @action(detail=True, methods=["post"])
    @operation(answer=KilnAnswerSerializer, status=202, body=SeekAnswer, repeatable=True, refuses=(409, 422))
    def seek(self, person: Person, given: dict[str, Any], uid: UUID) -> KilnAnswer:
        """Seek a plan; what comes of it stands at the answer (`kiln-answers`), a short while after.

        Of a job that is booked it is sought for what has not begun: after an outage, or when a kiln ran late.
        """
        return set_out(actor=person, job=_minded(person, uid), **given)

    @action(detail=True, methods=["post"])
    @operation(answer=KilnJobSerializer, repeatable=True, refuses=(409,))
    def arrive(self, person: Person, _given: dict[str, Any], uid: UUID) -> KilnJob:
        """All its pieces have come to the studio."""
        job = _minded(person, uid)
        arrived(actor=person, job=job)
        return _again(job)

    @action(detail=True, methods=["post"])
    @operation(answer=KilnJobSerializer, repeatable=True, refuses=(409,))
    def cancel(self, person: Person, _given: dict[str, Any], uid: UUID) -> KilnJob:
        """Call it off: what of it has not begun is free again."""
        return _again(cancel(actor=person, job=_minded(person, uid)))


def _whole(rows: QuerySet[KilnJob]) -> QuerySet[KilnJob]:
    steps = ("steps__studio", "steps__equipment__studio", "steps__load__firing", "steps__of")
    return rows.prefetch_related("loads__firing__equipment__studio", *steps)


def _again(job: KilnJob) -> KilnJob:
    return _whole(KilnJob.objects.select_related("owner", "glass")).get(pk=job.pk)


def _minded(person: Person, uid: UUID) -> KilnJob:
    return get_object_or_404(jobs_minded_by(person), uid=uid)


class AnswerQuery(PageQuery):
    """For which kiln job."""

    job = UidField(among=jobs_minded_by, what="kiln job", required=False)


class KilnAnswerView(Resource):
    """The answers that were sought for kiln jobs which are yours, or which you book."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=KilnAnswerSerializer, query=AnswerQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[KilnAnswer]:
        """Answers, the latest first."""
        found = _answers(person)
        return found.filter(job=given["job"]) if "job" in given else found

    @operation(answer=KilnAnswerSerializer)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> KilnAnswer:
        """One answer, as far as it is."""
        return get_object_or_404(_answers(person), uid=uid)

    @action(detail=True, methods=["post"])
    @operation(answer=KilnAnswerSerializer, repeatable=True, refuses=(409,))
    def stop(self, person: Person, _given: dict[str, Any], uid: UUID) -> KilnAnswer:
        """End the search with the best plan so far."""
        return stop(actor=person, answer=get_object_or_404(_answers(person), uid=uid))

    @action(detail=True, methods=["post"])
    @operation(answer=KilnJobSerializer, repeatable=True, refuses=(409,))
    def book(self, person: Person, _given: dict[str, Any], uid: UUID) -> KilnJob:
        """Book the plan, all of it; of a job that is booked, in place of what has not begun.

        Where somebody was faster (`plan-gone`), seek anew: nothing is changed.
        """
        return _again(book(actor=person, answer=get_object_or_404(_answers(person), uid=uid)))


def _answers(person: Person) -> QuerySet[KilnAnswer]:
    rows = KilnAnswer.objects.filter(job__in=jobs_minded_by(person).order_by().values("pk"))
    return rows.select_related("job").order_by("-started_at", "-pk")


class OpenFiringView(Resource):
    """Firings at your studios that take more pieces."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=OpenFiringSerializer, query=PageQuery, paged=True)
    def list(self, person: Person, _given: dict[str, Any]) -> list[OpenFiring]:
        """Those with room, the next first."""
        return open_firings(person)

    @operation(answer=KilnJobSerializer, status=201, body=AddPieces, repeatable=True, refuses=(409, 422))
    def create(self, person: Person, given: dict[str, Any]) -> KilnJob:
        """Put own pieces beside those that stand there, as a kiln job of that one firing, booked at once."""
        return _again(add_pieces(actor=person, **given))

    @action(detail=True, methods=["post"])
    @operation(answer=OpenedFiringSerializer, body=OpenFiringBody, repeatable=True, refuses=(409,))
    def open(self, person: Person, given: dict[str, Any], uid: UUID) -> Firing:
        """Open a firing to others, or open it otherwise: a class keeps shelves from below."""
        return offer(actor=person, firing=_firing(person, uid), **given)

    @action(detail=True, methods=["post"])
    @operation(answer=OpenedFiringSerializer, repeatable=True, refuses=(409,))
    def close(self, person: Person, _given: dict[str, Any], uid: UUID) -> Firing:
        """Nobody adds anything more; what was added stays."""
        return withdraw(actor=person, firing=_firing(person, uid))


def _firing(person: Person, uid: UUID) -> Firing:
    return get_object_or_404(visible.firings_of(person), uid=uid)
