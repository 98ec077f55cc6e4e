"""What must be told is written with what causes it, and delivered after it, however the mail fares."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core import mail
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.db import connection, transaction
from django.utils import timezone
from pytest_django.fixtures import Settings

from scheduling.models import Message
from scheduling.services.messages import CLAIMED_FOR, MOST_FAILURES, deliver_messages, tell
from tests.services.test_booking import book
from tests.worlds import Town, local

NOON = local(1, 12)


class AwayBackend(BaseEmailBackend):
    """A mail server that answers nobody."""

    def send_messages(self, *_letters: object) -> int:
        raise ConnectionRefusedError("no mail server here")


@pytest.mark.django_db
def test_a_booking_tells_its_instructor_once(town: Town) -> None:
    book(town, "blowing", local(1, 18))

    assert deliver_messages() == 1
    assert deliver_messages() == 0
    (letter,) = mail.outbox
    assert letter.to == [town.instructor.email]
    assert letter.subject == "Booked: blowing"
    assert "Tue 4 Mar 2031, 18:00 CST" in letter.body
    assert "unloaded from Wed 5 Mar 2031, 11:15 CST" in letter.body


@pytest.mark.django_db
def test_a_transaction_that_fails_tells_nobody(town: Town) -> None:
    @transaction.atomic
    def tell_and_fail() -> None:
        tell(person=town.student, subject="never", body="")
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        tell_and_fail()

    assert not Message.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_with_no_redis_a_message_goes_out_right_after_the_transaction(town: Town) -> None:
    with transaction.atomic():
        tell(person=town.student, subject="Seat", body="Yours.")
        assert not mail.outbox

    assert [letter.subject for letter in mail.outbox] == ["Seat"]
    assert Message.objects.get().sent_at is not None


@pytest.mark.django_db
def test_what_has_a_key_is_told_once_to_each_person(town: Town) -> None:
    for person in (town.student, town.student, town.other_student):
        tell(person=person, subject="To be collected", body="Shelf 4.", key="pick-up of firing 7")
    tell(person=town.student, subject="Seat", body="Yours.")
    tell(person=town.student, subject="Seat", body="Yours.")

    assert deliver_messages() == 4
    assert sorted(letter.to[0] for letter in mail.outbox if letter.subject == "To be collected") == [
        town.other_student.email,
        town.student.email,
    ]


@pytest.mark.django_db(transaction=True)
def test_no_transaction_is_open_while_the_mail_server_is_spoken_to(
    town: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_then: list[bool] = []

    def look(_mail: EmailMessage) -> None:
        open_then.append(connection.in_atomic_block)

    monkeypatch.setattr(EmailMessage, "send", look)

    tell(person=town.student, subject="Seat", body="Yours.")

    assert open_then == [False]


class Killed(BaseException):
    """What no handler catches."""


@pytest.mark.django_db
@pytest.mark.parametrize("mailed_first", [True, False])
def test_who_dies_over_a_message_leaves_it_to_the_next_one_after_the_claim_ends(
    town: Town, monkeypatch: pytest.MonkeyPatch, mailed_first: bool
) -> None:
    """Killed before the mail went out or just after it: it is mailed (again), under the same name."""
    sending = EmailMessage.send

    def send_and_die(letter: EmailMessage) -> None:
        if mailed_first:
            sending(letter)
        raise Killed

    with time_machine.travel(NOON, tick=False) as clock:
        tell(person=town.student, subject="Seat", body="Yours.")
        with monkeypatch.context() as dying:
            dying.setattr(EmailMessage, "send", send_and_die)
            with pytest.raises(Killed):
                deliver_messages()

        clock.shift(CLAIMED_FOR - dt.timedelta(seconds=1))
        assert deliver_messages() == 0
        clock.shift(dt.timedelta(seconds=1))
        assert deliver_messages() == 1

    assert len(mail.outbox) == 1 + mailed_first
    assert len({letter.extra_headers["Message-ID"] for letter in mail.outbox}) == 1
    assert Message.objects.get().tries == 2


@pytest.mark.django_db
def test_a_mail_server_that_is_away_is_not_asked_for_every_message(town: Town, settings: Settings) -> None:
    settings.EMAIL_BACKEND = "tests.services.test_messages.AwayBackend"
    for number in range(12):
        tell(person=town.student, subject=f"Seat {number}", body="Yours.")

    assert deliver_messages() == 0
    assert Message.objects.filter(tries=1).count() == MOST_FAILURES
    deliver_messages()
    assert Message.objects.filter(tries=1).count() == 2 * MOST_FAILURES


@pytest.mark.django_db
def test_waits_grow_to_six_hours_and_no_message_is_given_up(town: Town, settings: Settings) -> None:
    settings.EMAIL_BACKEND = "tests.services.test_messages.AwayBackend"
    waits = []
    with time_machine.travel(NOON, tick=False) as clock:
        tell(person=town.student, subject="Seat", body="Yours.")
        for _ in range(11):
            deliver_messages()
            message = Message.objects.get()
            waits.append((message.next_try_at - timezone.now()) // dt.timedelta(minutes=1))
            clock.move_to(message.next_try_at)

    assert waits == [2, 4, 8, 16, 32, 64, 128, 256, 360, 360, 360]


@pytest.mark.django_db
def test_a_failed_delivery_is_kept_and_tried_again_later(town: Town, settings: Settings) -> None:
    with time_machine.travel(NOON, tick=False) as clock:
        tell(person=town.student, subject="Seat", body="Yours.")
        working = settings.EMAIL_BACKEND
        settings.EMAIL_BACKEND = "tests.services.test_messages.AwayBackend"
        assert deliver_messages() == 0
        waiting = Message.objects.get()
        assert (waiting.tries, waiting.last_error) == (1, "ConnectionRefusedError: no mail server here")

        settings.EMAIL_BACKEND = working
        assert deliver_messages() == 0
        clock.shift(dt.timedelta(minutes=2))
        assert deliver_messages() == 1
