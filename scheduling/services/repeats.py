"""A request that carries an Idempotency-Key is carried out once, however often it is sent.

The claim on the key is written first, in a short transaction of its own, so that two copies of one request
never run side by side. What the request writes and the answer it got are then stored in one transaction:
whoever dies in between leaves both or neither. A refusal is an answer too. Answers are kept for 48 hours.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, connection, transaction
from django.db.models import Model
from django.utils import timezone

from scheduling.errors import KeyReused, RequestRunning
from scheduling.models import RepeatedRequest
from scheduling.prepared import added_together, added_unhurried, db_value
from scheduling.services.transactions import one_write
from studios.models import Person

KEPT = dt.timedelta(hours=48)
FORGOTTEN_AT_ONCE = 500
# Whoever claimed a key and has said nothing for this long was interrupted; no request takes minutes.
ABANDONED_AFTER = dt.timedelta(minutes=5)
KEEP = (
    "UPDATE scheduling_repeatedrequest SET status_code = %s, body = %s "
    "WHERE id = %s AND created_at = %s AND status_code IS NULL"
)


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the first request was told: a status and a body of plain JSON values.

    `last` are rows with which its work ends: they are written together with the answer.
    """

    status_code: int
    body: Any
    last: Sequence[Model] = ()


def digest_of(*, method: str, path: str, body: bytes) -> str:
    """What makes two requests the same one: SHA-256 of method, path and body."""
    return hashlib.sha256(b"\0".join((method.encode(), path.encode(), body))).hexdigest()


def forget_old(between: Callable[[], None] = lambda: None) -> int:
    """Forget the answers that need not be kept any longer, some at a time; returns how many."""
    old = RepeatedRequest.objects.filter(created_at__lt=timezone.now() - KEPT)
    forgotten = 0
    while some := list(old.values_list("pk", flat=True)[:FORGOTTEN_AT_ONCE]):
        between()
        forgotten += RepeatedRequest.objects.filter(pk__in=some).delete()[0]
    return forgotten


def answer_once(
    *,
    person: Person,
    key: str,
    digest: str,
    act: Callable[[], Answer],
    refuse: Callable[[Exception], Answer],
    prepare: Callable[[], None] = lambda: None,
) -> Answer:
    """Carry the request out, or give the first answer again.

    `prepare` works out what takes long, while nothing is locked. `act` writes and answers. When either
    raises, `refuse` turns the error into the answer, or raises again what is no refusal: then nothing is
    kept and the request may be sent again. Raises KeyReused when the key already names another request,
    RequestRunning while the first one is under way.
    """
    claim = _claim(person, key, digest)
    if isinstance(claim, Answer):
        return claim
    try:
        prepare()
        return one_write(lambda: _keep(claim, act()))()
    except _ClaimLost as lost:
        raise RequestRunning from lost
    except Exception as error:  # noqa: BLE001 - `refuse` raises again what it does not know
        return _keep_refusal(claim, error, refuse)


class _ClaimLost(Exception):
    """Another copy of the request took the claim over; this one must write nothing."""


def _claim(person: Person, key: str, digest: str) -> RepeatedRequest | Answer:
    now = timezone.now()
    try:
        # One statement is a transaction of its own; only within another one must it be undone by itself.
        with transaction.atomic() if connection.in_atomic_block else nullcontext():
            # The claim need not outlive the database: nothing that is done under it would, either.
            return added_unhurried(RepeatedRequest(person=person, key=key, digest=digest, created_at=now))
    except IntegrityError:
        return _earlier(person, key, digest, now)


def _earlier(person: Person, key: str, digest: str, now: dt.datetime) -> RepeatedRequest | Answer:
    """What the earlier request with this key left: its answer, or a claim that nobody holds any longer."""
    row = RepeatedRequest.objects.filter(person=person, key=key).first()
    if row is None:  # given up between our two statements
        raise RequestRunning
    if row.created_at < now - KEPT:
        row.delete()
        return _claim(person, key, digest)
    if row.digest != digest:
        raise KeyReused
    if row.status_code is not None:
        return Answer(status_code=row.status_code, body=row.body)
    if row.created_at > now - ABANDONED_AFTER:
        raise RequestRunning
    return _take_over(row, now)


def _take_over(row: RepeatedRequest, now: dt.datetime) -> RepeatedRequest:
    """Claim what was abandoned; of several that try, the first one gets it."""
    if not _held(row).update(created_at=now):
        raise RequestRunning
    row.created_at = now
    return row


def _keep(claim: RepeatedRequest, answer: Answer) -> Answer:
    """As `_held(claim).update`, which puts itself into SQL anew each time."""
    claim.status_code, claim.body = answer.status_code, answer.body
    values = [db_value(claim, name) for name in ("status_code", "body", "id", "created_at")]
    if not added_together(*answer.last, then=[(KEEP, values)]):
        raise _ClaimLost
    return answer


def _keep_refusal(claim: RepeatedRequest, error: Exception, refuse: Callable[[Exception], Answer]) -> Answer:
    try:
        answer = refuse(error)
    except Exception:
        _held(claim).delete()
        raise
    # Whoever took the claim over answers for itself; this refusal is true in any case.
    _held(claim).update(status_code=answer.status_code, body=answer.body)
    return answer


def _held(claim: RepeatedRequest) -> Any:
    """The claim, as long as it is still ours: a take-over changes its time."""
    return RepeatedRequest.objects.filter(pk=claim.pk, created_at=claim.created_at, status_code__isnull=True)
