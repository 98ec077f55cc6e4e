"""One way to write: lock in a fixed order, decide and write, in one transaction."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from contextvars import ContextVar
from typing import Any, ParamSpec, TypeVar

from django.db import DatabaseError, IntegrityError, OperationalError, connection, transaction
from django.db.models import Model, QuerySet

from scheduling.errors import AlreadyTaken
from scheduling.models import KilnJob, Session
from scheduling.prepared import Prepared, added_together, asked_together
from scheduling.reader import for_the_record
from studios.models import Equipment, Person, Supply

MOST_TRIES = 5
RETRIED = {"40P01", "40001"}  # PostgreSQL: deadlock detected, serialization failure
REFUSED = {
    "lehrbook_equipment_once": "The equipment",
    "lehrbook_person_once": "The person's time",
    "scheduling_seat.session_id": "The seat",
    "seat_once": "The seat",
    "class_torch_once": "The torch",
    "one_seat_a_person": "The seat",
}

_joins: ContextVar[bool] = ContextVar("joins", default=False)
_last: ContextVar[list[Model] | None] = ContextVar("last", default=None)
P = ParamSpec("P")
R = TypeVar("R")


def one_write(service: Callable[P, R]) -> Callable[P, R]:
    """Run a service in one transaction: all of it or nothing.

    What is kept is said in English, whoever asks. A deadlock is tried again and never shown. What the
    database's own guards refuse is an AlreadyTaken.
    """

    return _tried(service, for_the_record)


def one_rehearsal(service: Callable[P, R]) -> Callable[P, R]:
    """The same for what is undone at its end: nothing is kept, and whoever asks reads what is said."""
    return _tried(service, nullcontext)


def _tried(service: Callable[P, R], said: Callable[[], AbstractContextManager[None]]) -> Callable[P, R]:
    @functools.wraps(service)
    def written(*args: P.args, **kwargs: P.kwargs) -> R:
        for tries_left in reversed(range(MOST_TRIES)):
            try:
                with said(), _transaction():
                    return service(*args, **kwargs)
            except IntegrityError as error:
                raise _as_ours(error) from error
            except OperationalError as error:
                if not tries_left or connection.in_atomic_block or _state(error) not in RETRIED:
                    raise
        raise AssertionError("the last try returns or raises")

    return written


@contextmanager
def joining() -> Iterator[list[Model]]:
    """The next service within is all that the write under way consists of: a refusal ends both.

    So it needs no savepoint, to which whoever caught its refusal could go back and write on. Whoever joins
    gets the rows that the service would write last (`write_last`), and has to write them.
    """
    last: list[Model] = []
    joins, before = _joins.set(True), _last.set(last)
    try:
        yield last
    finally:
        _last.reset(before)
        _joins.reset(joins)


def write_last(*rows: Model) -> None:
    """Insert rows at the end of a service; where it is all of a write under way, they go with its own last.

    Nothing that is still asked or written by the service may depend on them.
    """
    last = _last.get()
    if last is None:
        added_together(*rows)
    else:
        last.extend(rows)


@contextmanager
def _transaction() -> Iterator[None]:
    joins = _joins.get()
    before, last = _joins.set(False), _last.set(_last.get() if joins else None)
    try:
        with transaction.atomic(savepoint=not joins):
            yield
    finally:
        _last.reset(last)
        _joins.reset(before)


def _as_ours(error: IntegrityError) -> Exception:
    for name, what in REFUSED.items():
        if name in str(error):
            return AlreadyTaken(what=what)
    return error


def _state(error: DatabaseError) -> str:
    return str(getattr(error.__cause__, "sqlstate", ""))


def lock(
    *,
    supplies: Iterable[int] = (),
    equipment: Iterable[int] = (),
    sessions: Iterable[int] = (),
    people: Iterable[int] = (),
    jobs: Iterable[int] = (),
) -> None:
    """Lock every row whose limit a write touches, always in this order: by kind, then by id.

    The pieces of a kiln job are locked by it, those of a class by its session.

    SQLite has no row locks: there a transaction that writes is the only one from its beginning.
    """
    _lock(Supply.objects.filter(pk__in=set(supplies)))
    _lock(Equipment.objects.filter(pk__in=set(equipment)))
    _lock(Session.objects.filter(pk__in=set(sessions)))
    _lock(Person.objects.filter(pk__in=set(people)))
    _lock(KilnJob.objects.filter(pk__in=set(jobs)))


STANDS = ("status", "starts_at", "ends_at", "seats", "instructor_id", "sequence", "changed_at")
SESSION = Prepared(
    lambda pk: Session.objects.filter(pk=pk).select_for_update(no_key=True).values_list(*STANDS), pk=int
)
PERSON = Prepared(
    lambda pk: Person.objects.filter(pk=pk).select_for_update(no_key=True).values_list("is_active"), pk=int
)


def lock_and_ask(session: Session, person: Person, question: QuerySet[Any]) -> tuple[Any, ...] | None:
    """Lock a session and a person, learn how the session stands now, and only then ask something of one row.

    None where either is gone, or the session is at another time than the question was made for.
    """
    times = session.starts_at, session.ends_at
    sessions, people, answers = asked_together(SESSION(pk=session.pk), PERSON(pk=person.pk), question)
    for row in sessions:
        for name, value in zip(STANDS, row, strict=True):
            setattr(session, name, value)
    stands = sessions and people == [(True,)] and times == (session.starts_at, session.ends_at)
    return answers[0] if stands and answers else None


def _lock(rows: QuerySet[Any]) -> None:
    # Not a key lock: rows that only refer to these may still be written.
    list(rows.order_by("pk").select_for_update(no_key=True).values_list("pk", flat=True))
