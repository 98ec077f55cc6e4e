"""Secret calendar links: made, withdrawn, and the day of last use."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from scheduling.errors import InvalidInput, NotYours
from scheduling.models import FeedKey
from studios.models import Person

LABEL_LENGTH = 60


@transaction.atomic
def new_feed_key(*, actor: Person, label: str) -> FeedKey:
    """A person makes as many secret links as they have devices, each with a name to know it by."""
    name = label.strip()
    if not name or len(name) > LABEL_LENGTH:
        raise InvalidInput(
            field="label", problem=f"Give the link a name of 1 to {LABEL_LENGTH} letters, such as “my phone”."
        )
    return FeedKey.objects.create(person=actor, label=name)


@transaction.atomic
def withdraw_feed_key(*, actor: Person, feed_key: FeedKey) -> FeedKey:
    """From now on the link shows nothing. Only its owner withdraws it; a second time changes nothing."""
    if feed_key.person_id != actor.pk and not actor.is_superuser:
        raise NotYours(what="This calendar link")
    FeedKey.objects.filter(pk=feed_key.pk, revoked_at__isnull=True).update(revoked_at=timezone.now())
    feed_key.refresh_from_db()
    return feed_key


def note_feed_use(*, feed_key: FeedKey, day: dt.date) -> bool:
    """Keep the day on which a link was last used; one write a day, however often it is read."""
    if feed_key.last_used_on is not None and feed_key.last_used_on >= day:
        return False
    unwritten = Q(last_used_on__isnull=True) | Q(last_used_on__lt=day)
    return bool(FeedKey.objects.filter(unwritten, pk=feed_key.pk).update(last_used_on=day))
