"""What must be told to somebody: written in the transaction that causes it, delivered after it.

    tell --same transaction--> a row --commit--> a ring --> claimed --> mailed --> noted
                                                   no ring, or a process that died: the next round finds it

A message is claimed before it is mailed, so that of many processes one mails it. The claim ends by itself:
a process that dies between mailing and noting leaves a message that is mailed again (at least once), with
the same Message-ID.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from uuid import uuid4

from celery import current_app
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import Message
from scheduling.prepared import added
from scheduling.reader import spoken, telling
from scheduling.services.bell import bell
from scheduling.services.mail import mail_of
from studios.models import Person

DELIVER = "scheduling.deliver_messages"
FIRST_WAIT = dt.timedelta(minutes=1)
LONGEST_WAIT = dt.timedelta(hours=6)
# Longer than a mail server takes that answers at all (EMAIL_TIMEOUT bounds each of its answers).
CLAIMED_FOR = dt.timedelta(minutes=5)
# So many failures in a row are a mail server that is away; the rest need not find that out one by one.
MOST_FAILURES = 5
# A ring that no worker has heard by then is void: the rounds have come by meanwhile.
RING_LASTS_S = 60


def tell(
    *,
    person: Person,
    subject: str,
    body: str,
    key: str = "",
    method: str = "",
    invitation: str = "",
    page: str = "",
) -> Message:
    """Put a message into the outbox; it goes out only if the transaction it belongs to stands.

    What has a `key` a person is told once: the second time the first message is given back. An `invitation`
    goes with the mail, for the calendar of its reader, and `page` is where more is told of it
    (`services.invitations`).
    """
    said = message(person=person, subject=subject, body=body, method=method, invitation=invitation, page=page)
    if key:
        facts = {name: getattr(said, name) for name in ("subject", "body", "method", "invitation")}
        first, new = Message.objects.get_or_create(person=person, key=key, defaults=facts)
    else:
        first, new = added(said), True
    if new:
        ring_after_commit()
    return first


def message(
    *, person: Person, subject: str, body: str, method: str = "", invitation: str = "", page: str = ""
) -> Message:
    """What `tell` puts into the outbox, not yet written: in the language of whoever is told."""
    with telling(person):
        heading, text = " ".join(spoken(subject).split())[:200], spoken(body)
    if page:
        text = f"{text}\n\n{page}"
    return Message(person=person, subject=heading, body=text, method=method, invitation=invitation)


def ring_after_commit() -> None:
    """Have the outbox delivered as soon as what is written now stands."""
    # A broker that is away blocks no booking: what is not rung for now is found by the next round.
    transaction.on_commit(_ring, robust=True)


def _ring() -> None:
    """By the thread that listens in this process, else by a worker, else here and now."""
    if not bell.ring():
        hand_on()


def hand_on() -> None:
    """Have a worker deliver; with no Redis deliver here."""
    current_app.signature(DELIVER).apply_async(expires=RING_LASTS_S)


def deliver_messages(limit: int = 100, between: Callable[[], None] = lambda: None) -> int:
    """Deliver what is due, and call `between` before each message; returns how many went out.

    No transaction is open while a mail server is spoken to. A failure waits longer each time before the next
    try, and many in a row leave the rest to the next round.
    """
    sent = failures = 0
    for _ in range(limit):
        between()
        message = _claim() if failures < MOST_FAILURES else None
        if message is None:
            break
        went = _send(message)
        sent += went
        failures = 0 if went else failures + 1
    return sent


def due() -> QuerySet[Message]:
    """What can be tried now, the oldest first."""
    waiting = Message.objects.filter(sent_at__isnull=True, next_try_at__lte=timezone.now())
    return waiting.order_by("created_at", "pk")


def _claim() -> Message | None:
    if not due().exists():  # where nothing waits, nothing is locked
        return None
    with transaction.atomic():
        # Two workers never take the same message: the second passes over a locked row.
        message = due().select_for_update(skip_locked=True, of=("self",)).first()
        if message is not None:
            message.claim = uuid4()
            message.tries += 1
            message.next_try_at = timezone.now() + CLAIMED_FOR
            message.save(update_fields=["claim", "tries", "next_try_at"])
    return message


def _send(message: Message) -> bool:
    try:
        mail_of(message).send()
    except Exception as error:  # noqa: BLE001  (whatever a mail server does, the message is kept)
        _note_failure(message, error)
        return False
    # Whoever has claimed it since will find that it went.
    Message.objects.filter(pk=message.pk).update(sent_at=timezone.now(), claim=None)
    return True


def _note_failure(message: Message, error: Exception) -> None:
    wait = min(FIRST_WAIT * 2 ** min(message.tries, 10), LONGEST_WAIT)
    Message.objects.filter(pk=message.pk, claim=message.claim, sent_at__isnull=True).update(
        claim=None,
        last_error=f"{type(error).__name__}: {error}"[:300],
        next_try_at=timezone.now() + wait,
    )
