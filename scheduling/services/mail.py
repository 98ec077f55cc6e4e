"""A message as a mail; an invitation goes with it as the part that calendars read (RFC 6047)."""

from __future__ import annotations

from email.charset import QP, Charset

from django.conf import settings
from django.core.mail import EmailMultiAlternatives

from scheduling.models import Message

# A mail server on the way may know seven bits only; what a calendar is given must arrive as it was.
SEVEN_BITS = Charset("utf-8")
SEVEN_BITS.body_encoding = QP
# Of an object; at the head of a line, so that no text can hold it.
END = "\r\nEND:VCALENDAR\r\n"


def mail_of(message: Message) -> EmailMultiAlternatives:
    """The mail of a message; the same message gives the same Message-ID."""
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=message.body,
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=[message.person.email],
        headers={"Message-ID": f"<{message.uid}@lehrbook>"},
    )
    if message.invitation:
        _invite(mail, message.method, message.invitation)
    return mail


def _invite(mail: EmailMultiAlternatives, method: str, invitation: str) -> None:
    """The invitation stands beside the text. Of several, for there is one for each UID, the others follow."""
    mail.encoding = SEVEN_BITS
    kind = f"text/calendar; method={method}; component=VEVENT"
    first, *others = (f"{each}{END}" for each in invitation.split(END) if each)
    mail.attach_alternative(first, kind)
    for number, other in enumerate(others, start=2):
        mail.attach(f"invitation-{number}.ics", other, kind)
