"""What must be told is written with what causes it, and delivered after it, however the mail fares."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from pytest_django.fixtures import Settings

from scheduling.models import Message
from scheduling.services.messages import deliver_messages, tell
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
