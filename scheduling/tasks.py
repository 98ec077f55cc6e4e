"""What runs beside the requests. Tasks fetch by id and call a service; with no Redis they run in process."""

from __future__ import annotations

from celery import shared_task

from scheduling.models import Face
from scheduling.services import kiln_answers, rounds
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


@shared_task(name=kiln_answers.SEARCH)
def search_kiln_answer(key: int) -> None:
    """Seek a plan for a kiln job."""
    kiln_answers.search_by_id(key)
