"""What must be told to somebody: written in the transaction that causes it, delivered after it."""

from __future__ import annotations

import datetime as dt

from celery import current_app
from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.utils import timezone

from scheduling.models import Message
from studios.models import Person

DELIVER = "scheduling.deliver_messages"
FIRST_WAIT = dt.timedelta(minutes=1)
LONGEST_WAIT = dt.timedelta(hours=6)


def tell(*, person: Person, subject: str, body: str) -> Message:
    """Put a message into the outbox; it goes out only if the transaction it belongs to stands."""
    # A broker that is away blocks no booking: what is not rung for now is found by the next round.
    transaction.on_commit(_ring, robust=True)
    return Message.objects.create(person=person, subject=" ".join(subject.split())[:200], body=body)


def _ring() -> None:
    """Have the outbox delivered: by a worker, or, with no Redis, here and now."""
    current_app.signature(DELIVER).delay()


def deliver_messages(limit: int = 100) -> int:
    """Deliver what is due, each message in its own transaction; returns how many went out.

    At least once: a process that dies between sending and noting it sends again. A failure waits longer
    each time before the next try.
    """
    sent = 0
    for _ in range(limit):
        done = _deliver_one()
        if done is None:
            break
        sent += done
    return sent


@transaction.atomic
def _deliver_one() -> bool | None:
    due = Message.objects.filter(sent_at__isnull=True, next_try_at__lte=timezone.now())
    # Two workers never take the same message: the second passes over a locked row.
    message = due.order_by("created_at", "pk").select_for_update(skip_locked=True, of=("self",)).first()
    return None if message is None else _send(message)


def _send(message: Message) -> bool:
    mail = EmailMessage(
        subject=message.subject,
        body=message.body,
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=[message.person.email],
        headers={"Message-ID": f"<{message.uid}@lehrbook>"},
    )
    try:
        mail.send()
    except Exception as error:  # noqa: BLE001  (whatever a mail server does, the message is kept)
        message.tries += 1
        message.last_error = f"{type(error).__name__}: {error}"[:300]
        message.next_try_at = timezone.now() + min(FIRST_WAIT * 2 ** min(message.tries, 10), LONGEST_WAIT)
        message.save(update_fields=["tries", "last_error", "next_try_at"])
        return False
    message.tries += 1
    message.sent_at = timezone.now()
    message.save(update_fields=["tries", "sent_at"])
    return True
