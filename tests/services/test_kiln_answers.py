"""Answers to a kiln job: found, watched while they are sought, stopped, broken off, and booked."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.db import connection, transaction
from django.utils import timezone

from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused, from_json
from scheduling.errors import InvalidInput, NotYours, Over
from scheduling.models import Firing, KilnAnswer, KilnJob, KilnJobStatus
from scheduling.selectors.kiln_jobs import Sought, how_it_stands
from scheduling.services import kiln_answers
from scheduling.services.kiln_answers import ask, search, seek, set_out, start, stop
from scheduling.services.kiln_booking import book, cancel
from studios.models import Equipment
from tests.invariants import broken
from tests.services.kiln_work import a_job, load_at, planned, with_shelves
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(town: Town, kiln: Equipment) -> KilnJob:
    return a_job(town)


def finds(monkeypatch: pytest.MonkeyPatch, does: Callable[..., WorkPlanned | WorkRefused]) -> None:
    """What the engine would answer, for what is tried here."""
    monkeypatch.setattr(kiln_answers, "find", does)


def test_a_process_that_never_searches_does_without_the_solver() -> None:
    """Every page and each part of the API is there without it."""
    serves = (
        "import sys, django; django.setup(); import scheduling.project.urls; print('ortools' in sys.modules)"
    )

    started = subprocess.run([sys.executable, "-c", serves], capture_output=True, text=True, check=True)

    assert started.stdout.split() == ["False"]


def test_what_is_found_is_kept_and_booked_as_it_was_found(town: Town, job: KilnJob) -> None:
    answer = seek(actor=town.instructor, job=job)

    assert how_it_stands(answer) == Sought.FOUND
    plan = from_json(answer.plan or {})
    book(actor=town.instructor, answer=answer)

    assert Firing.objects.count() == len(plan.loads) == 1
    assert job.pieces.filter(stands__isnull=False).distinct().count() == 6
    answer.job.refresh_from_db()
    assert answer.job.ready_at == answer.ready_at
    assert broken() == []


def test_fused_then_slumped_is_booked_with_its_handwork(town: Town, kiln: Equipment) -> None:
    job = a_job(town, route="fuse-slump", cold_min_each=10)

    book(actor=town.instructor, answer=seek(actor=town.instructor, job=job))

    assert list(job.loads.order_by("job_step").values_list("job_step", flat=True)) == [1, 2]
    assert job.steps.earliest("starts_at").does == "wash-shelves"
    assert job.steps.get(does="cold-work").booking is not None
    assert broken() == []


def test_why_there_is_none_is_a_sentence_with_its_code(town: Town, kiln: Equipment) -> None:
    job = a_job(town, due_at=local(1, 12))

    answer = seek(actor=town.instructor, job=job)

    assert how_it_stands(answer) == Sought.REFUSED
    assert answer.refusal is not None
    assert set(answer.refusal) == {"code", "sentence", "earliest"}
    with pytest.raises(Over, match="no plan"):
        book(actor=town.instructor, answer=answer)


def test_each_better_plan_and_a_sign_of_life_can_be_read_while_it_is_sought(
    town: Town, job: KilnJob, clock: time_machine.Traveller, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, seen = planned(load_at(job, town.equipment["kiln"], local(1, 18))), []

    def look(
        *_: Any, on_better: Callable[[WorkPlanned], None], stop: Callable[[], bool], **__: Any
    ) -> WorkPlanned:
        clock.shift(20)
        on_better(plan)
        seen.append((KilnAnswer.objects.get(), stop()))
        return plan

    finds(monkeypatch, look)
    began = timezone.now()
    search(ask(actor=town.instructor, job=job))

    ((meanwhile, stopped),) = seen
    assert meanwhile.ended_at is None
    assert meanwhile.alive_at == began + dt.timedelta(seconds=20)
    assert meanwhile.ready_at is not None
    assert not stopped


def test_stopped_it_ends_with_the_best_so_far(
    town: Town, job: KilnJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = planned(load_at(job, town.equipment["kiln"], local(1, 18)))

    def look(*_: Any, stop: Callable[[], bool], **__: Any) -> WorkPlanned | WorkRefused:
        kiln_answers.stop(actor=town.instructor, answer=KilnAnswer.objects.get())
        return plan if stop() else WorkRefused(code="not-stopped", sentence="It was not stopped.")

    finds(monkeypatch, look)
    answer = ask(actor=town.instructor, job=job)
    search(answer)

    assert how_it_stands(answer) == Sought.FOUND
    with pytest.raises(Over, match="has ended already"):
        stop(actor=town.instructor, answer=answer)


def test_whoever_seeks_and_dies_has_broken_off_after_half_a_minute(
    town: Town, job: KilnJob, clock: time_machine.Traveller
) -> None:
    answer = ask(actor=town.instructor, job=job)

    clock.shift(30)
    still = how_it_stands(answer)
    clock.shift(1)

    assert (still, how_it_stands(answer)) == (Sought.SEEKING, Sought.BROKEN_OFF)


def test_a_search_that_fails_says_so(town: Town, job: KilnJob, monkeypatch: pytest.MonkeyPatch) -> None:
    def look(*_: Any, **__: Any) -> WorkPlanned:
        raise ZeroDivisionError

    finds(monkeypatch, look)

    answer = seek(actor=town.instructor, job=job)

    assert answer.refusal is not None
    assert answer.refusal["code"] == "broken-off"


def test_only_who_minds_the_job_seeks_and_only_what_is_known_can_be_otherwise(
    town: Town, job: KilnJob
) -> None:
    with pytest.raises(NotYours):
        seek(actor=town.student, job=job)
    with pytest.raises(InvalidInput) as refused:
        seek(actor=town.instructor, job=job, what_if={"thickness_mm": "thick"})
    assert refused.value.field == "thickness_mm"
    with pytest.raises(InvalidInput):
        seek(actor=town.instructor, job=job, aim="prettiest")

    cancel(actor=town.instructor, job=job)

    with pytest.raises(Over):
        seek(actor=town.instructor, job=job)
    assert not KilnAnswer.objects.exists()


def test_within_a_transaction_it_is_sought_once_that_stands(
    town: Town, job: KilnJob, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True), transaction.atomic():
        answer = ask(actor=town.instructor, job=job)
        start(answer)
        before = answer.ended_at

    assert before is None
    assert answer.ended_at is not None


@pytest.mark.django_db(transaction=True)
def test_a_serving_process_seeks_in_a_thread_and_a_short_search_is_waited_for(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.PULSE, town = True, build_town()
    kiln = with_shelves(town)
    with time_machine.travel(local(0, 9), tick=True):
        job = a_job(town)
        plan, threads = planned(load_at(job, kiln, local(1, 18))), []

        def look(*_: Any, **__: Any) -> WorkPlanned:
            threads.append(threading.current_thread().name)
            return plan

        finds(monkeypatch, look)

        answer = set_out(actor=town.instructor, job=job, patience_s=20)

    assert threads == ["lehrbook-kilns"]
    assert how_it_stands(answer) == Sought.FOUND
    assert KilnJob.objects.get().status == KilnJobStatus.ASKED
    connection.close()
