"""Whoever manages a studio sees what its people are told and how it fared, and has it tried again."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import uuid4

import pytest
from django.core import mail
from django.utils import timezone

from scheduling.errors import NotAllowed, Over
from scheduling.models import Message
from scheduling.selectors.outbox import messages_minded_by
from scheduling.services.messages import deliver_messages
from scheduling.services.outbox import try_again, try_all_again
from studios.models import Membership, Person
from tests.worlds import Town

pytestmark = pytest.mark.django_db
IN_AN_HOUR = dt.timedelta(hours=1)


def told(person: Person, subject: str, **facts: Any) -> Message:
    """A message that is as far as the facts say."""
    return Message.objects.create(person=person, subject=subject, body="between us", **facts)


def failed(person: Person, subject: str = "Your seat") -> Message:
    return told(person, subject, tries=3, last_error="OSError: away", next_try_at=timezone.now() + IN_AN_HOUR)


def test_a_message_waits_is_sent_or_failed(town: Town) -> None:
    now = timezone.now()
    told(town.student, "waiting")
    told(town.student, "sending", claim=uuid4(), tries=1, next_try_at=now + IN_AN_HOUR)
    told(town.student, "left by the dead", claim=uuid4(), tries=1, next_try_at=now - IN_AN_HOUR)
    failed(town.student, "failed")
    told(town.student, "sent", sent_at=now, last_error="OSError: away", tries=2)

    found: list[Any] = list(messages_minded_by(town.manager))
    states = {message.subject: message.state for message in found}

    assert states == {
        "waiting": "waiting",
        "sending": "sending",
        "left by the dead": "waiting",
        "failed": "failed",
        "sent": "sent",
    }


def test_a_manager_sees_what_people_of_the_studio_are_told_and_nothing_else(town: Town) -> None:
    told(town.student, "mine")
    told(town.stranger, "a stranger's")
    elsewhere = Person.objects.create_user("other.manager@town.example", "glass", name="Other manager")

    assert [message.subject for message in messages_minded_by(town.manager)] == ["mine"]
    assert not messages_minded_by(elsewhere).exists()
    Membership.objects.filter(person=town.student).delete()
    assert not messages_minded_by(town.manager).exists()


@pytest.mark.parametrize("who", ["student", "instructor", "technician", "stranger"])
def test_nobody_else_looks_into_the_outbox(town: Town, who: str) -> None:
    message, person = failed(town.student), getattr(town, who)

    assert not messages_minded_by(person).exists()
    with pytest.raises(NotAllowed):
        try_again(actor=person, message=message)
    with pytest.raises(NotAllowed):
        try_all_again(actor=person)


def test_what_failed_is_tried_again_now_and_not_in_an_hour(town: Town) -> None:
    message = failed(town.student)
    assert deliver_messages() == 0

    try_again(actor=town.manager, message=message)

    assert deliver_messages() == 1
    assert [letter.subject for letter in mail.outbox] == ["Your seat"]
    with pytest.raises(Over, match="This message has been sent"):
        try_again(actor=town.manager, message=message)


def test_what_is_being_sent_just_now_is_left_alone(town: Town) -> None:
    claim, until = uuid4(), timezone.now() + IN_AN_HOUR
    message = told(town.student, "sending", claim=claim, tries=1, next_try_at=until)

    with pytest.raises(Over, match="This message is being sent just now"):
        try_again(actor=town.manager, message=message)

    assert try_all_again(actor=town.manager) == 0
    assert Message.objects.get().claim == claim


def test_all_is_tried_again_when_the_mail_server_is_there_again(town: Town) -> None:
    for person in (town.student, town.instructor, town.stranger):
        failed(person)
    Membership.objects.filter(person=town.student, studio=town.hot_shop).delete()

    assert try_all_again(actor=town.manager, studio=town.hot_shop) == 1
    assert try_all_again(actor=town.manager) == 2
    assert deliver_messages() == 2
