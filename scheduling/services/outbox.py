"""What whoever minds an outbox does about it: have what waits tried again now."""

from __future__ import annotations

from django.db.models import Q, QuerySet
from django.utils import timezone

from scheduling.errors import NotAllowed, Over
from scheduling.models import Message
from scheduling.selectors.outbox import MessageState, in_state, messages_minded_by, minded_by, to_people_of
from scheduling.services.messages import ring_after_commit
from scheduling.services.transactions import one_write
from studios.models import Person, Studio
from studios.said import said
from studios.selectors import studios_of


def require_outbox(person: Person) -> None:
    """Raises NotAllowed to whoever minds the outbox of no studio."""
    if person.is_superuser or minded_by(person).exists():
        return
    own = " or ".join(studio.name for studio in studios_of(person)) or "any studio"
    raise NotAllowed(who=person.name, what=said("look into the outbox"), studio=own, role=said("manager"))


@one_write
def try_again(*, actor: Person, message: Message) -> None:
    """Have a message tried now, whatever its next try was to be. Raises NotAllowed or Over."""
    require_outbox(actor)
    own = messages_minded_by(actor).filter(pk=message.pk)
    if not own.exists():
        raise NotAllowed(
            who=actor.name, what=said("see this"), studio=said("the reader's studio"), role=said("manager")
        )
    if not _hurry(own):
        sent = own.filter(in_state(MessageState.SENT)).exists()
        raise Over(
            what=said("This message"), why=said("has been sent") if sent else said("is being sent just now")
        )


@one_write
def try_all_again(*, actor: Person, studio: Studio | None = None) -> int:
    """Have all that waits or failed tried now; returns how many. Raises NotAllowed."""
    require_outbox(actor)
    own = messages_minded_by(actor)
    return _hurry(own if studio is None else own.filter(to_people_of(studio)))


def _hurry(messages: QuerySet[Message]) -> int:
    """What is being sent just now is left alone: its try is under way."""
    now = timezone.now()
    idle = Q(claim__isnull=True) | Q(next_try_at__lte=now)
    unsent = Message.objects.filter(idle, sent_at__isnull=True, pk__in=messages.order_by().values("pk"))
    ring_after_commit()
    return unsent.update(claim=None, next_try_at=now)
