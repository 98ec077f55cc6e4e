"""A query that is put into SQL once gives what it gives anew; a row that is added is the row that is read."""

from __future__ import annotations

import uuid

import pytest
from django.db import connection
from django.db.models import Exists, OuterRef
from django.test.utils import CaptureQueriesContext

from scheduling.models import AuditEntry, Face, Message, RepeatedRequest, Seat, Session
from scheduling.prepared import Prepared, added
from scheduling.services.booking import book_session
from studios.models import Membership, Person
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db


def book(town: Town) -> Session:
    course = town.courses["beads"]
    who = {"actor": town.instructor, "instructor": town.instructor}
    return book_session(course=course, studio=course.studios.get(), starts_at=local(3, 12), **who)


def test_each_call_asks_with_its_own_values(town: Town) -> None:
    query = Prepared(
        lambda person, uid: (
            Membership.objects.filter(person=person, studio__memberships__person__uid=uid)
            .select_related("studio")
            .order_by("pk")
            .distinct()
        ),
        person=int,
        uid=uuid.UUID,
    )

    for one in (town.student, town.instructor, town.student):
        for other in (town.student, town.instructor):
            anew = Membership.objects.filter(person=one, studio__memberships__person=other)
            found = list(query(person=one.pk, uid=other.uid))
            assert found == list(anew.distinct().order_by("pk"))
            assert [row.studio.slug for row in found] == [
                row.studio.slug for row in anew.distinct().order_by("pk")
            ]


def test_times_uids_and_truth_values_come_back_as_they_are(town: Town) -> None:
    session = book(town)
    query = Prepared(
        lambda after, uid: (
            Session.objects.filter(starts_at__gt=after, uid=uid)
            .annotate(empty=~Exists(Seat.objects.filter(session=OuterRef("pk"))))
            .values_list("uid", "starts_at", "empty")
        ),
        after=type(session.starts_at),
        uid=uuid.UUID,
    )

    assert list(query(after=local(3, 11), uid=session.uid)) == [(session.uid, session.starts_at, True)]
    assert list(query(after=local(3, 12), uid=session.uid)) == []


def test_a_query_that_forgets_a_value_is_refused() -> None:
    with pytest.raises(ValueError, match="all of its values"):
        Prepared(lambda person: Person.objects.filter(is_active=True), person=int)(person=1)  # noqa: ARG005


def test_a_call_after_the_first_is_one_statement(town: Town) -> None:
    query = Prepared(lambda person: Person.objects.filter(pk=person), person=int)

    query(person=town.manager.pk).get()
    with CaptureQueriesContext(connection) as asked:
        assert query(person=town.student.pk).get() == town.student

    assert len(asked) == 1


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_is_opened_anew_plans_anew() -> None:
    town, query = build_town(), Prepared(lambda person: Person.objects.filter(pk=person), person=int)
    query(person=town.manager.pk).get()
    connection.close()

    assert query(person=town.student.pk).get() == town.student


def test_an_added_row_is_the_row_that_is_read(town: Town) -> None:
    message = added(Message(person=town.student, subject="Grüße", body="a\r\nb", key=""))
    answer = added(
        RepeatedRequest(person=town.student, key="k", digest="d", status_code=201, body={"a": [1, None, "ü"]})
    )
    entry = added(
        AuditEntry(
            studio=town.flame,
            actor=None,
            face=Face.API,
            did="try",
            kind="seat",
            subject=uuid.uuid4(),
            said="x",
        )
    )

    for row in (message, answer, entry):
        again = type(row)._default_manager.get(pk=row.pk)
        assert {f.attname: getattr(again, f.attname) for f in row._meta.concrete_fields} == {
            f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields
        }
        assert not row._state.adding
    message.subject = "changed"
    message.save()
    assert Message.objects.count() == 1
