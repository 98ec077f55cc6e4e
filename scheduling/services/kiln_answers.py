"""Seeking a plan for a kiln job: started, watched while it goes on, stopped with the best so far.

set_out -> row -> a worker, else a thread of this process, else here and now
search: asked_of -> engine answer -- better ones, and signs of life, once a second --> plan or refusal
"""

from __future__ import annotations

import datetime as dt
import logging
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict
from importlib import import_module
from typing import Any

from celery import current_app
from django.conf import settings
from django.db import close_old_connections, connection, transaction
from django.utils import timezone
from kombu.exceptions import OperationalError

from scheduling.engine.clock import moment
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused, as_json
from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.world import World
from scheduling.errors import NotYours, Over
from scheduling.models import KilnAnswer, KilnJob, KilnJobStatus
from scheduling.selectors.kiln_jobs import minds_job
from scheduling.selectors.kiln_stages import needs_more
from scheduling.selectors.kiln_what_if import otherwise
from scheduling.selectors.kiln_work import asked_of
from scheduling.services.kiln_jobs import Changes, change
from scheduling.services.transactions import one_write
from studios.errors import LehrbookError
from studios.models import Person
from studios.said import said

SEARCH = "scheduling.search_kiln_answer"
FINDS = "scheduling.engine.kiln_work.answer"
LONGEST_S = 20.0
# A short search answers in the first page that asks.
PATIENCE_S = 1.5
EVERY_S = 1.0
# A worker that has not begun by then never will: whoever asked has read that it broke off.
QUEUED_S = 60

log = logging.getLogger(__name__)


def seek(
    *, actor: Person, job: KilnJob, aim: str = "", what_if: Mapping[str, Any] | None = None
) -> KilnAnswer:
    """Seek a plan here and now, and wait for it; in no transaction, which would keep others from writing.

    Raises NotYours, Over or InvalidInput.
    """
    answer = ask(actor=actor, job=job, aim=aim, what_if=what_if)
    search(answer)
    return answer


def set_out(
    *,
    actor: Person,
    job: KilnJob,
    aim: str = "",
    what_if: Mapping[str, Any] | None = None,
    patience_s: float = PATIENCE_S,
) -> KilnAnswer:
    """Seek a plan beside the requests; a short search has ended when this returns.

    Of a job that is booked it is sought for what has not begun. Raises NotYours, Over or InvalidInput.
    """
    answer = ask(actor=actor, job=job, aim=aim, what_if=what_if)
    start(answer, patience_s=patience_s)
    return answer


def set_out_later(*, actor: Person, answer: KilnAnswer) -> KilnAnswer:
    """Seek again, due when the earliest plan is ready that an answer names.

    A job of which nothing is booked is due then; one that is booked keeps its date. Raises as `set_out`.
    """
    earliest, job = (answer.refusal or {}).get("earliest"), answer.job
    if earliest is None:
        raise Over(what=said("The answer"), why=said("names no time at which it could be ready"))
    due = moment(earliest) + dt.timedelta(minutes=1)
    if job.status == KilnJobStatus.BOOKED:
        later = {**answer.what_if, "due_at": due.isoformat()}
        return set_out(actor=actor, job=job, aim=answer.aim, what_if=later)
    change(actor=actor, job=job, changes=Changes(due_at=due))
    return set_out(actor=actor, job=job)


@one_write
def ask(
    *, actor: Person, job: KilnJob, aim: str = "", what_if: Mapping[str, Any] | None = None
) -> KilnAnswer:
    """The row of an answer that nobody seeks yet. Raises NotYours, Over or InvalidInput."""
    if not minds_job(actor, job):
        raise NotYours(what=job.title)
    if job.status in {KilnJobStatus.DONE, KilnJobStatus.CANCELLED}:
        raise Over(what=job.title, why=said("is over already"))
    if job.status == KilnJobStatus.BOOKED and not needs_more(job):
        raise Over(what=job.title, why=said("has nothing left that has not begun"))
    changed = {**(what_if or {}), **({"aim": aim} if aim else {})}
    wanted = otherwise(job, changed).aim.value
    return KilnAnswer.objects.create(job=job, aim=wanted, what_if=dict(what_if or {}), asked_by=actor)


def start(answer: KilnAnswer, *, patience_s: float = PATIENCE_S) -> None:
    """Have it sought: by a worker where there is a broker, else by a thread where this process has others.

    Within a transaction nobody else sees the row yet: then it begins after the commit, and nobody waits.
    """
    if connection.in_atomic_block:
        transaction.on_commit(lambda: _begin(answer))
        return
    _begin(answer)
    deadline = time.monotonic() + patience_s
    while answer.ended_at is None and time.monotonic() < deadline:
        time.sleep(0.05)
        answer.refresh_from_db()


def _begin(answer: KilnAnswer) -> None:
    if settings.REDIS_URL and _handed_over(answer):
        return
    if settings.PULSE:
        threading.Thread(target=_beside, args=[answer.pk], name="lehrbook-kilns", daemon=True).start()
    else:
        search(answer)


def _handed_over(answer: KilnAnswer) -> bool:
    """Whether a worker has it; while the broker is away whoever asked seeks it."""
    try:
        current_app.signature(SEARCH, args=[answer.pk]).apply_async(expires=QUEUED_S)
    except OperationalError:
        log.warning("The broker is away; %s is sought by the process that was asked.", answer)
        return False
    return True


def _beside(key: int) -> None:
    """In a thread of its own, with a connection of its own."""
    close_old_connections()
    try:
        search_by_id(key)
    finally:
        connection.close()


def search_by_id(key: int) -> None:
    """Seek the answer with this key, if it is still wanted."""
    answer = KilnAnswer.objects.filter(pk=key, ended_at__isnull=True).first()
    if answer is not None:
        search(answer)


def search(answer: KilnAnswer) -> None:
    """Seek a plan, say once a second how far it is, and keep the plan or why there is none."""
    watch = _Watch(answer)
    try:
        world, asked = asked_of(answer.job, {**answer.what_if, "aim": answer.aim})
        found = find(world, asked, on_better=watch.better, stop=watch.stop, seconds=LONGEST_S)
    except LehrbookError as error:
        found = WorkRefused(code=error.code, sentence=error.said)
    except Exception:
        log.exception("The search for %s broke off.", answer)
        found = WorkRefused(
            code="broken-off", sentence=said("The search broke off; nothing is booked. Seek again.")
        )
    _keep(answer, found)


def find(world: World, asked: WorkAsked, **how: Any) -> WorkPlanned | WorkRefused:
    """The search itself. It brings a solver of 60 MB, which a process that never searches does without."""
    answer: Callable[..., WorkPlanned | WorkRefused] = import_module(FINDS).answer
    return answer(world, asked, **how)


class _Watch:
    """What a search says while it goes on, and whether it is to stop; the database is asked once a second."""

    def __init__(self, answer: KilnAnswer) -> None:
        self._answer = answer
        self._best: WorkPlanned | None = None
        self._said_at = 0.0
        self._stop = False

    def better(self, plan: WorkPlanned) -> None:
        """A plan that is better than those before it."""
        self._best = plan
        self._say()

    def stop(self) -> bool:
        """Whether somebody has asked for the best so far."""
        self._say()
        return self._stop

    def _say(self) -> None:
        if time.monotonic() - self._said_at < EVERY_S:
            return
        self._said_at = time.monotonic()
        rows = KilnAnswer.objects.filter(pk=self._answer.pk)
        best = self._best
        so_far = {} if best is None else {"ready_at": moment(best.ready), "bound_at": moment(best.bound)}
        rows.update(alive_at=timezone.now(), **so_far)
        self._stop = rows.filter(stop_asked=True).exists()


def _keep(answer: KilnAnswer, found: WorkPlanned | WorkRefused) -> None:
    now = timezone.now()
    if isinstance(found, WorkPlanned):
        answer.plan, answer.refusal = as_json(found), None
        answer.ready_at, answer.bound_at = moment(found.ready), moment(found.bound)
        answer.proven = found.proven
    else:
        answer.plan, answer.refusal = None, asdict(found)
        answer.ready_at = None if found.earliest is None else moment(found.earliest)
    answer.alive_at = answer.ended_at = now
    answer.save(update_fields=["plan", "refusal", "ready_at", "bound_at", "proven", "alive_at", "ended_at"])


@one_write
def stop(*, actor: Person, answer: KilnAnswer) -> KilnAnswer:
    """Ask the search to end with the best so far. Raises NotYours or Over."""
    if not minds_job(actor, answer.job):
        raise NotYours(what=answer.job.title)
    if not KilnAnswer.objects.filter(pk=answer.pk, ended_at__isnull=True).update(stop_asked=True):
        raise Over(what=said("The search"), why=said("has ended already"))
    answer.stop_asked = True
    return answer
