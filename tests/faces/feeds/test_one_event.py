"""One seat, or one class, as a file to add to any calendar."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from scheduling.models import BookingStatus, FeedForm, FeedKey, Seat, SeatStatus
from studios.models import Role
from tests.faces.feeds import rows
from tests.faces.feeds.conftest import EVENING, Night
from tests.faces.feeds.readers import READERS


def test_a_seat_is_a_file_with_one_event_as_all_readers_see_it(client: Client, night: Night) -> None:
    client.force_login(night.student)
    seat = Seat.objects.get(person=night.student)

    file = client.get(reverse("seat-file", args=[seat.uid]))

    assert file["Content-Disposition"] == 'attachment; filename="lehrbook-seat-2027-03-13.ics"'
    assert file["Content-Type"] == "text/calendar; charset=utf-8"
    seen = [reader(file.content) for reader in READERS]
    assert seen[0] == seen[1] == seen[2]
    assert [each.title for each in seen[0]] == ["Evening blowing, seat 1"]


def test_it_is_the_same_event_as_in_the_subscription(client: Client, night: Night) -> None:
    """Whoever adds it and subscribes has it once, where the program goes by the UID."""
    client.force_login(night.student)
    seat = Seat.objects.get(person=night.student)
    link = FeedKey.objects.create(person=night.student, label="phone")

    file = client.get(reverse("seat-file", args=[seat.uid])).content.decode()
    subscribed = client.get(reverse("feed-form", args=[link.key, FeedForm.ICALENDAR])).content.decode()

    assert f"UID:{seat.uid}" in file
    assert f"UID:{seat.uid}" in subscribed


@pytest.mark.parametrize("status", [SeatStatus.KEPT, SeatStatus.CANCELLED])
def test_what_is_only_kept_or_given_back_is_no_engagement(
    client: Client, night: Night, status: SeatStatus
) -> None:
    client.force_login(night.student)
    Seat.objects.filter(person=night.student).update(status=status, kept_until=EVENING)

    file = client.get(reverse("seat-file", args=[Seat.objects.get().uid]))

    assert file.status_code == 404


def test_a_class_is_a_file_for_whoever_sees_its_page(client: Client, night: Night) -> None:
    address = reverse("class-file", args=[night.session.uid])
    client.force_login(night.instructor)
    file = client.get(address)
    client.force_login(rows.person("Stranger"))
    strangers = client.get(address)

    assert [each.title for each in READERS[0](file.content)] == ["Evening blowing"]
    assert strangers.status_code == 404


def test_a_class_called_off_is_no_file(client: Client, night: Night) -> None:
    client.force_login(rows.person("Anna", night.studio, Role.STUDENT))
    night.session.status = BookingStatus.CANCELLED
    night.session.save()

    assert client.get(reverse("class-file", args=[night.session.uid])).status_code == 404


def test_both_ask_for_a_sign_in(client: Client, night: Night) -> None:
    seat = Seat.objects.get()

    for name, uid in (("seat-file", seat.uid), ("class-file", night.session.uid)):
        assert client.get(reverse(name, args=[uid])).status_code == 302
