"""An invitation goes out as calendar programs expect it, whatever servers it passes (RFC 6047)."""

from __future__ import annotations

from email.message import EmailMessage

import pytest
from django.core import mail

from scheduling.models import Message
from scheduling.services.cancelling import cancel_series, cancel_session
from scheduling.services.mail import mail_of
from scheduling.services.messages import deliver_messages, tell
from scheduling.services.seats import reserve_class_seat
from tests.services.own_calendar import calendar_parts, parsed
from tests.services.test_booking import book
from tests.services.test_series import seated, weekly
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def kinds(message: EmailMessage) -> list[str]:
    """The kinds of all its parts, outside in."""
    return [part.get_content_type() for part in message.walk()]


def sent(message: Message) -> bytes:
    raw: bytes = mail_of(message).message().as_bytes()
    return raw


def test_the_invitation_stands_beside_the_text_with_its_method_in_the_head(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session)
    message = town.student.messages.get()

    letter = parsed(message)

    assert kinds(letter) == ["multipart/alternative", "text/plain", "text/calendar"]
    text, calendar = letter.iter_parts()
    assert isinstance(calendar, EmailMessage)
    assert dict(calendar["content-type"].params) == {
        "method": "REQUEST",
        "component": "VEVENT",
        "charset": "utf-8",
    }
    assert "METHOD:REQUEST\r\n" in message.invitation
    assert text.get_content().splitlines() == message.body.splitlines()
    assert letter["message-id"] == f"<{message.uid}@lehrbook>"
    assert [part.defects for part in letter.walk()] == [[], [], []]


def test_a_withdrawal_says_so_in_the_head_and_in_the_calendar(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    cancel_session(actor=town.instructor, session=session)

    (part,) = calendar_parts(town.instructor.messages.order_by("-pk")[0])

    assert part["content-type"].params["method"] == "CANCEL"
    assert "METHOD:CANCEL\r\n" in part.get_content()


def test_letters_of_any_alphabet_pass_a_server_that_knows_seven_bits(town: Town) -> None:
    town.courses[
        "beads"
    ].name = "Perličky: žíhání, 玻璃珠 for Zoë; and 𝔤lass, in a title long enough to be folded"
    town.courses["beads"].save()
    town.flame.name = "Flamme & Söhne"
    town.flame.save()
    reserve_class_seat(actor=town.student, session=book(town, "beads", local(1, 18)))
    message = town.student.messages.get()

    raw, (part,) = sent(message), calendar_parts(message)

    assert raw.isascii()
    assert max(map(len, raw.splitlines())) <= 78
    assert part.get_payload(decode=True) == message.invitation.encode()
    assert "žíhání" in message.invitation.replace("\r\n ", "")


def test_seats_in_several_meetings_are_several_invitations_in_one_mail(town: Town) -> None:
    series = weekly(town)
    seated(series, town.student, 1, 2, 3)
    cancel_series(actor=town.instructor, series=series)
    message = town.student.messages.get(subject="Called off: blowing")

    letter = parsed(message)

    assert kinds(letter) == [
        "multipart/mixed",
        "multipart/alternative",
        "text/plain",
        "text/calendar",
        "text/calendar",
        "text/calendar",
    ]
    parts = calendar_parts(message)
    assert "".join(part.get_content() for part in parts) == message.invitation
    assert [part.get_filename() for part in parts] == [None, "invitation-2.ics", "invitation-3.ics"]
    assert {part["content-type"].params["method"] for part in parts} == {"CANCEL"}


def test_no_text_can_end_an_invitation_early(town: Town) -> None:
    town.flame.address = "END:VCALENDAR"
    town.flame.save()
    reserve_class_seat(actor=town.student, session=book(town, "beads", local(1, 18)))
    message = town.student.messages.get()

    (part,) = calendar_parts(message)

    assert "Flame\\, END:VCALENDAR\r\n" in message.invitation
    assert part.get_content() == message.invitation


def test_what_invites_nobody_is_a_plain_letter_as_ever(town: Town) -> None:
    tell(person=town.student, subject="Your shelf", body="Grüße vom Regal.")

    letter = parsed(town.student.messages.get())

    assert kinds(letter) == ["text/plain"]
    assert letter.get_content().strip() == "Grüße vom Regal."
    assert letter["content-transfer-encoding"] == "8bit"


def test_it_is_delivered_as_it_stands_in_the_outbox(town: Town) -> None:
    session = book(town, "beads", local(1, 18))

    assert deliver_messages() == 1

    (letter,) = mail.outbox
    assert isinstance(letter, mail.EmailMultiAlternatives)
    ((content, kind),) = letter.alternatives
    assert content == session.instructor.messages.get().invitation
    assert kind == "text/calendar; method=REQUEST; component=VEVENT"
