"""Firings are shared where glass, room and hours allow; else the second is refused, with a temperature."""

from __future__ import annotations

import datetime as dt

import pytest

from scheduling.errors import NoStart
from scheduling.models import Firing, Message, Outage
from scheduling.services.cancelling import cancel_session
from tests.services.test_booking import book, firing_of
from tests.worlds import Town, add_course, local

pytestmark = pytest.mark.django_db


def test_compatible_glass_joins_the_firing_and_its_end_moves(town: Town) -> None:
    first = firing_of(book(town, "blowing", local(1, 14)))
    cool_before = first.cool_at

    second = firing_of(book(town, "blowing", local(1, 18), town.other_instructor))

    assert second == first
    assert second.cool_at - cool_before == dt.timedelta(hours=4)
    assert second.sequence == 1
    assert Firing.objects.count() == 1
    assert second.occupancy.phases.filter(kind="holding").get().starts_at == local(1, 14)
    assert Message.objects.filter(person=town.instructor, subject__startswith="Firing moved").count() == 1


def test_the_thicker_piece_governs_a_shared_firing(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    thin = firing_of(book(town, "blowing", local(1, 14)))
    thin_night = thin.cool_at - thin.last_in_at

    both = firing_of(book(town, "paperweights", local(1, 18), town.other_instructor))

    assert both.pk == thin.pk
    assert both.cool_at - both.last_in_at > thin_night + dt.timedelta(hours=5)


def test_other_glass_is_refused_with_the_temperature_and_the_time_the_annealer_comes_free(town: Town) -> None:
    first = firing_of(book(town, "beads", local(1, 14)))
    free = first.occupancy.ends_at

    with pytest.raises(NoStart) as refused:
        book(town, "boro", local(1, 18), town.other_instructor)

    sentence = str(refused.value)
    assert "small annealer is taken by beads" in sentence
    assert f"comes free at {free.astimezone(town.flame.zone):%a} 5 Mar" in sentence
    assert "boro-33 anneals at 560 °C, soft-104 at 507 °C" in sentence
    assert " °C at Tue 4 Mar 18:00" in sentence


def test_a_full_shelf_is_not_joined(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    add_course(
        town,
        "platters",
        town.hot_shop,
        "studio-96",
        {"furnace": 1, "glory-hole": 1, "annealer": 1},
        piece_footprint_cm2=500,
    )
    book(town, "blowing", local(1, 18))

    with pytest.raises(NoStart, match="room for 2800 cm² more, 3000 are needed"):
        book(town, "platters", local(1, 18), town.other_instructor)


def test_a_second_annealer_is_taken_where_the_first_cannot_be_shared(town: Town) -> None:
    add_course(
        town,
        "platters",
        town.hot_shop,
        "studio-96",
        {"furnace": 1, "glory-hole": 1, "annealer": 1},
        piece_footprint_cm2=500,
    )
    first = book(town, "blowing", local(1, 18))
    second = book(town, "platters", local(1, 18), town.other_instructor)

    assert firing_of(first).equipment != firing_of(second).equipment


def test_a_gap_longer_than_the_studio_holds_for_means_a_second_firing(town: Town) -> None:
    book(town, "blowing", local(1, 9, 30))
    town.hot_shop.hold_gap_min = 60
    town.hot_shop.save()

    second = firing_of(book(town, "blowing", local(1, 18), town.other_instructor))

    assert Firing.objects.count() == 2
    assert second.at_hold_at == local(1, 18)


def test_a_joined_end_is_checked_against_what_follows(town: Town) -> None:
    town.equipment["annealer 2"].delete()
    first = firing_of(book(town, "blowing", local(1, 14)))
    cool = first.occupancy.ends_at
    Outage.objects.create(
        equipment=town.equipment["annealer 1"],
        starts_at=cool + dt.timedelta(minutes=30),
        ends_at=cool + dt.timedelta(hours=9),
        reason="new elements",
    )

    with pytest.raises(
        NoStart, match=r"out of use \(new elements\).*joining the firing before it would last"
    ):
        book(town, "blowing", local(1, 18), town.other_instructor)


def test_when_a_load_goes_the_firing_lives_on_for_the_other(town: Town) -> None:
    alone = book(town, "blowing", local(1, 14))
    hours = firing_of(alone).cool_at
    second = book(town, "blowing", local(1, 18), town.other_instructor)

    cancel_session(actor=town.other_instructor, session=second)

    firing = firing_of(alone)
    assert firing.status == "booked"
    assert firing.cool_at == hours
    assert firing.loads.count() == 1


def test_when_the_session_that_opened_a_firing_goes_it_begins_for_the_one_that_joined(town: Town) -> None:
    first = book(town, "blowing", local(1, 14))
    second = book(town, "blowing", local(1, 18), town.other_instructor)

    cancel_session(actor=town.instructor, session=first)

    assert firing_of(second).at_hold_at == local(1, 18)
    assert firing_of(second).occupancy.starts_at > local(1, 12)


def test_a_firing_with_no_load_left_is_over_and_the_annealer_free(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    firing = firing_of(session)

    cancel_session(actor=town.instructor, session=session)

    firing.refresh_from_db()
    assert firing.status == "cancelled"
    assert not town.equipment["annealer 1"].occupancies.exists()
