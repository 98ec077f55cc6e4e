"""A calendar as it was written last is kept, so that whoever asks again need not wait for it."""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib

from scheduling.models import FeedCopy, FeedKey
from scheduling.services.transactions import one_write


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
    return copy
