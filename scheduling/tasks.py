"""What runs beside the requests. Tasks fetch by id and call a service; with no Redis they run in process."""

from __future__ import annotations

from celery import shared_task

from scheduling.models import Face
from scheduling.services import rounds
from scheduling.services.audit import acting
from scheduling.services.messages import DELIVER, deliver_messages


@shared_task(name=DELIVER)
def deliver_waiting_messages() -> int:
    """Deliver the messages that wait in the outbox."""
    with acting(Face.ROUND):
        return deliver_messages()


@shared_task(name=rounds.MAKE_ROUNDS)
def make_rounds() -> dict[str, int]:
    """Do the periodic work that is due."""
    return rounds.make_rounds()
