"""Secret links are made and withdrawn by the person they belong to."""

from __future__ import annotations

import datetime as dt

import pytest

from scheduling.errors import InvalidInput, NotYours
from scheduling.models import FeedKey
from scheduling.services.calendars import new_feed_key, note_feed_use, withdraw_feed_key
from tests.faces.feeds import rows

pytestmark = pytest.mark.django_db


def test_each_device_has_a_link_of_its_own_that_nobody_guesses() -> None:
    vera = rows.person("Vera")
    phone, desk = new_feed_key(actor=vera, label=" my phone "), new_feed_key(actor=vera, label="desk")

    assert phone.label == "my phone"
    assert phone.key != desk.key
    # 256 bits, six to a letter.
    assert len(phone.key) == 43


@pytest.mark.parametrize("label", ["", "   ", "x" * 61])
def test_a_link_needs_a_name(label: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        new_feed_key(actor=rows.person("Vera"), label=label)
    assert refused.value.field == "label"
    assert not FeedKey.objects.exists()


def test_a_link_is_withdrawn_once() -> None:
    vera = rows.person("Vera")
    key = new_feed_key(actor=vera, label="phone")

    first = withdraw_feed_key(actor=vera, feed_key=key).revoked_at
    again = withdraw_feed_key(actor=vera, feed_key=key).revoked_at

    assert first is not None
    assert again == first


def test_nobody_withdraws_the_link_of_another() -> None:
    key = new_feed_key(actor=rows.person("Vera"), label="phone")
    with pytest.raises(NotYours):
        withdraw_feed_key(actor=rows.person("Orrin"), feed_key=key)
    key.refresh_from_db()
    assert key.revoked_at is None


def test_two_readers_at_the_same_moment_write_the_day_once() -> None:
    key = new_feed_key(actor=rows.person("Vera"), label="phone")
    day = dt.date(2027, 3, 13)

    assert note_feed_use(link_id=key.pk, last_used_on=None, day=day)
    assert not note_feed_use(link_id=key.pk, last_used_on=None, day=day)
    assert not note_feed_use(link_id=key.pk, last_used_on=day, day=day)
