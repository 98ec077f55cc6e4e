"""A calendar as it was written last is kept, so that whoever asks again need not wait for it."""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib

from scheduling.models import FeedCopy, FeedKey
from scheduling.services.transactions import one_write

# Of one link in one form: a service is known by a name or two, and whoever has a link may ask by any.
MOST_COPIES = 4


@one_write
def forget_copies(link: FeedKey) -> None:
    """Nothing is kept of a calendar that its owner may no longer see."""
    FeedCopy.objects.filter(feed_key=link).delete()


@one_write
def keep_copy(
    *,
    link: FeedKey,
    form: str,
    base: str,
    count: int,
    good_until: dt.datetime,
    content: bytes,
    now: dt.datetime,
) -> FeedCopy | None:
    """Keep what was written of a calendar; None where its link was withdrawn meanwhile.

    `count` is what was counted before it was read. The same bytes are the same copy, as old as it was. Who
    was slower than another writer, and read less, changes nothing.
    """
    open_links = FeedKey.objects.select_for_update(no_key=True).filter(revoked_at__isnull=True)
    if not open_links.filter(pk=link.pk).exists():
        return None
    copy = FeedCopy.objects.filter(feed_key=link, form=form, base=base).first()
    digest = hashlib.sha256(content).hexdigest()
    if copy is None:
        copy = FeedCopy(feed_key=link, form=form, base=base, count=-1, digest="", good_until=now)
    if (copy.count, copy.good_until) > (count, good_until):
        return copy
    if (copy.count, copy.good_until, copy.digest) == (count, good_until, digest):
        return copy
    if copy.digest != digest:
        copy.digest, copy.changed_at = digest, now
        copy.content = gzip.compress(content, mtime=0)
    copy.count, copy.good_until = count, good_until
    copy.save()
    _let_the_oldest_go(link, form)
    return copy


def _let_the_oldest_go(link: FeedKey, form: str) -> None:
    """Where a service answers to any name, a copy for each would fill the database."""
    copies = FeedCopy.objects.filter(feed_key=link, form=form).order_by("-pk")
    if too_many := list(copies.values_list("pk", flat=True)[MOST_COPIES:]):
        FeedCopy.objects.filter(pk__in=too_many).delete()
