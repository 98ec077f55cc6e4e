"""The audit in the admin, and people and studios that it names."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from scheduling.models import AuditEntry
from studios.models import Person, Studio
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(town: Town) -> Client:
    """Whoever runs the server, where one class was booked."""
    book(town, "blowing", local(1, 18))
    client = Client()
    client.force_login(Person.objects.create_superuser("owner@town.example", "glass", name="Owner"))
    return client


@pytest.mark.parametrize("kind", ["person", "studio"])
def test_whoever_the_audit_names_is_not_deleted_and_the_page_says_why(
    owner: Client, town: Town, kind: str
) -> None:
    row: Person | Studio = town.instructor if kind == "person" else town.hot_shop
    address = reverse(f"admin:studios_{kind}_delete", args=[row.pk])

    page = owner.get(address).content.decode()
    owner.post(address, {"post": "yes"})

    assert "1 audit entry, " in page
    assert "They are kept, and what they refer to stays with them." in page
    assert ("is made inactive instead" in page) == (kind == "person")
    assert type(row).objects.filter(pk=row.pk).exists()


def test_several_chosen_from_the_list_are_kept_in_the_same_way(owner: Client, town: Town) -> None:
    chosen = [town.instructor.pk, town.stranger.pk]

    page = owner.post(
        reverse("admin:studios_person_changelist"),
        {"action": "delete_selected", "_selected_action": chosen, "post": "yes"},
    )

    assert "1 audit entry, " in page.content.decode()
    assert Person.objects.filter(pk__in=chosen).count() == 2


def test_somebody_to_whom_nothing_refers_is_deleted(owner: Client, town: Town) -> None:
    owner.post(reverse("admin:studios_person_delete", args=[town.stranger.pk]), {"post": "yes"})

    assert not Person.objects.filter(pk=town.stranger.pk).exists()


def test_the_audit_is_read_and_neither_added_to_nor_changed(owner: Client) -> None:
    entry = AuditEntry.objects.get()

    assert entry.said in owner.get(reverse("admin:scheduling_auditentry_changelist")).content.decode()
    assert owner.get(reverse("admin:scheduling_auditentry_add")).status_code == 403
    for page in ("change", "delete"):
        address = reverse(f"admin:scheduling_auditentry_{page}", args=[entry.pk])
        assert owner.post(address, {"post": "yes"}).status_code == 403
    assert AuditEntry.objects.get().said == entry.said
