"""Secret calendar links: made, withdrawn, and the day of last use."""

from __future__ import annotations

import datetime as dt

from django.db.models import Q
from django.utils import timezone

from scheduling.errors import InvalidInput, NotYours
from scheduling.models import FeedKey
from scheduling.services import audit
from scheduling.services.transactions import one_write
from studios.models import Person

LABEL_LENGTH = 60


@one_write
def new_feed_key(*, actor: Person, label: str) -> FeedKey:
    """A person makes as many secret links as they have devices, each with a name to know it by."""
    name = label.strip()
    if not name or len(name) > LABEL_LENGTH:
        raise InvalidInput(
            field="label", problem=f"Give the link a name of 1 to {LABEL_LENGTH} letters, such as “my phone”."
        )
    made = FeedKey.objects.create(person=actor, label=name)
    _note(actor, "make-link", made)
    return made


@one_write
def withdraw_feed_key(*, actor: Person, feed_key: FeedKey) -> FeedKey:
    """From now on the link shows nothing. Only its owner withdraws it; a second time changes nothing."""
    if feed_key.person_id != actor.pk and not actor.is_superuser:
        raise NotYours(what="This calendar link")
    if FeedKey.objects.filter(pk=feed_key.pk, revoked_at__isnull=True).update(revoked_at=timezone.now()):
        _note(actor, "withdraw-link", feed_key)
    feed_key.refresh_from_db()
    return feed_key


def _note(actor: Person, did: str, link: FeedKey) -> None:
    """Without its name: which devices somebody has is nobody else's business."""
    said = f"A calendar link of {link.person.name}"
    audit.note_of_account(actor=actor, did=did, subject=link, person=link.person, said=said)


def note_feed_use(*, feed_key: FeedKey, day: dt.date) -> bool:
    """Keep the day on which a link was last used; one write a day, however often it is read."""
    if feed_key.last_used_on is not None and feed_key.last_used_on >= day:
        return False
    unwritten = Q(last_used_on__isnull=True) | Q(last_used_on__lt=day)
    return bool(FeedKey.objects.filter(unwritten, pk=feed_key.pk).update(last_used_on=day))
