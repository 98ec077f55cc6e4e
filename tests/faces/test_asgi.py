"""What each request passes through does so under ASGI as well."""

from __future__ import annotations

import pytest
from asgiref.sync import async_to_sync
from django.test import AsyncClient

from scheduling.models import AuditEntry, Face, FeedKey
from tests.worlds import build_town

TOKEN = "wJ8Qn2cV0sLr5tYb7uKd3f"


@pytest.mark.django_db(transaction=True)
def test_a_form_is_carried_out_once_and_noted_at_its_face() -> None:
    town = build_town()
    client = AsyncClient()
    client.force_login(town.student)

    @async_to_sync
    async def send() -> int:
        return (await client.post("/calendars", {"label": "my phone", "once": TOKEN})).status_code

    assert [send(), send()] == [302, 302]
    assert FeedKey.objects.count() == 1
    assert set(AuditEntry.objects.values_list("face", flat=True)) == {Face.PAGE}
