"""What is unloaded gets a shelf, whoever made it is told once, and it is handed over."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import AuditEntry, Collection, Firing, Message, PickUp, Seat, SeatStatus, Session
from scheduling.selectors.pick_up import own_pieces, shelves_of
from scheduling.services.actuals import record_actual, strike_actual
from scheduling.services.pick_up import mark_collected, unload
from studios.models import Person
from tests.services.test_booking import book, firing_of
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
NOON = local(2, 12)


def sits(session: Session, person: Person, number: int, status: str = SeatStatus.BOOKED) -> Seat:
    hours = {"starts_at": session.starts_at, "ends_at": session.ends_at}
    kept = {"kept_until": session.starts_at} if status == SeatStatus.KEPT else {}
    return Seat.objects.create(
        person=person, studio=session.studio, session=session, number=number, status=status, **hours, **kept
    )


@pytest.fixture
def session(town: Town, clock: time_machine.Traveller) -> Session:
    """A blowing class on Tuesday evening; both students sat in it."""
    found = book(town, "blowing", local(1, 18))
    sits(found, town.student, 1)
    sits(found, town.other_student, 2)
    clock.move_to(NOON)
    return found


def shelve(town: Town, firing: Firing, shelf: str = "shelf 3, left") -> None:
    unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), shelf))
    firing.refresh_from_db()


def told() -> list[str]:
    found = Message.objects.filter(subject__startswith="To be collected").order_by("person__name")
    return list(found.values_list("person__name", flat=True))


def test_unloaded_it_lies_on_a_shelf_and_whoever_sat_in_the_class_is_told_where_and_from_when(
    town: Town, session: Session
) -> None:
    firing = firing_of(session)

    shelve(town, firing)

    assert firing.unloaded_at == NOON
    assert firing.occupancy.ends_at == NOON
    assert told() == ["Other_Student", "Student"]
    assert not Message.objects.filter(subject__startswith="Firing moved").exists()
    body = Message.objects.filter(person=town.student, subject="To be collected: blowing").get().body
    assert "lie at shelf 3, left, from Wed 5 Mar 2031, 12:00 CST" in body
    assert [piece.pick_up.shelf for piece in own_pieces(town.student)] == ["shelf 3, left"]


def test_said_twice_everybody_is_told_once_and_the_shelf_is_corrected(town: Town, session: Session) -> None:
    firing = firing_of(session)

    shelve(town, firing)
    shelve(town, firing, "shelf 4")

    assert told() == ["Other_Student", "Student"]
    assert PickUp.objects.get().shelf == "shelf 4"
    assert firing.actuals.filter(kind="unloaded").count() == 1


def test_who_gave_the_seat_back_or_never_booked_it_has_no_piece(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "blowing", local(1, 18))
    sits(session, town.student, 1)
    sits(session, town.other_student, 2, SeatStatus.CANCELLED)
    sits(session, town.manager, 3, SeatStatus.KEPT)
    clock.move_to(NOON)

    shelve(town, firing_of(session))

    assert told() == ["Student"]


def test_where_nobody_sat_whoever_owns_the_load_collects_it(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "blowing", local(1, 18))
    clock.move_to(NOON)

    shelve(town, firing_of(session))

    assert told() == ["Instructor"]


def test_what_broke_off_is_handed_to_nobody(town: Town, session: Session) -> None:
    firing = firing_of(session)
    record_actual(actor=town.technician, firing=firing, kind="power-lost", at=local(1, 21, 10))
    firing.refresh_from_db()

    unload(actor=town.technician, firing=firing, shelves={})

    firing.refresh_from_db()
    assert firing.unloaded_at == NOON
    assert told() == []
    assert not PickUp.objects.exists()
    assert not Collection.objects.exists()
    with pytest.raises(Over, match="annealed again"):
        shelve(town, firing)


def test_every_load_needs_a_shelf(town: Town, session: Session) -> None:
    firing = firing_of(session)

    with pytest.raises(InvalidInput, match="where each load lies"):
        shelve(town, firing, "  ")

    firing.refresh_from_db()
    assert firing.unloaded_at is None
    assert not firing.actuals.exists()


def test_handed_over_and_not_after_all_with_who_noted_it(town: Town, session: Session) -> None:
    shelve(town, firing_of(session))
    collection = Collection.objects.get(person=town.student)

    mark_collected(actor=town.technician, collection=collection)
    with pytest.raises(Over, match="collected already"):
        mark_collected(actor=town.manager, collection=collection)
    assert (collection.collected_at, collection.noted_by) == (NOON, town.technician)
    assert not own_pieces(town.student).exists()
    mark_collected(actor=town.manager, collection=collection, collected=False)

    assert (collection.collected_at, collection.noted_by) == (None, None)
    noted = AuditEntry.objects.filter(kind="collection").order_by("pk").values_list("did", flat=True)
    assert list(noted) == ["hand-over", "not-collected"]


def test_students_hand_out_nothing(town: Town, session: Session) -> None:
    firing = firing_of(session)
    shelve(town, firing)

    with pytest.raises(NotAllowed):
        mark_collected(actor=town.student, collection=Collection.objects.get(person=town.student))
    with pytest.raises(NotAllowed):
        unload(actor=town.student, firing=firing, shelves={})


def test_a_studio_sees_what_is_to_unload_what_lies_there_and_what_nobody_came_for(
    town: Town, session: Session, clock: time_machine.Traveller
) -> None:
    firing = firing_of(session)

    def shown() -> tuple[int, int, int]:
        at = next(each for each in shelves_of(town.technician) if each.studio == town.hot_shop)
        return len(at.to_unload), len(at.waiting), len(at.uncollected)

    before = shown()
    shelve(town, firing)
    unloaded = shown()
    clock.move_to(NOON + dt.timedelta(days=town.hot_shop.uncollected_days))
    late = shown()

    assert (before, unloaded, late) == ((1, 0, 0), (0, 2, 0), (0, 0, 2))
    assert shelves_of(town.student) == []


def test_unloaded_without_a_word_of_shelves_it_waits_for_them(town: Town, session: Session) -> None:
    firing = firing_of(session)
    record_actual(actor=town.technician, firing=firing, kind="unloaded", at=local(2, 11))

    at = next(each for each in shelves_of(town.technician) if each.studio == town.hot_shop)
    assert list(at.without_shelf) == [firing]
    shelve(town, firing)

    assert PickUp.objects.get().ready_at == local(2, 11)


def test_an_unloading_entered_by_mistake_is_struck_and_whoever_was_told_is_told_so(
    town: Town, session: Session
) -> None:
    firing = firing_of(session)
    shelve(town, firing)

    strike_actual(actor=town.technician, actual=firing.actuals.get(kind="unloaded"))

    firing.refresh_from_db()
    assert firing.unloaded_at is None
    assert not PickUp.objects.exists()
    assert Message.objects.filter(subject__startswith="Not yet to be collected").count() == 2


def test_what_is_collected_was_unloaded(town: Town, session: Session) -> None:
    firing = firing_of(session)
    shelve(town, firing)
    mark_collected(actor=town.technician, collection=Collection.objects.get(person=town.student))

    with pytest.raises(Over, match="collected already"):
        strike_actual(actor=town.technician, actual=firing.actuals.get(kind="unloaded"))


def test_told_afterwards_that_it_broke_off_nobody_is_to_come_for_it(town: Town, session: Session) -> None:
    firing = firing_of(session)
    shelve(town, firing)

    record_actual(actor=town.technician, firing=firing, kind="power-lost", at=local(1, 21, 10))

    assert not PickUp.objects.exists()
    said = Message.objects.filter(subject__startswith="Not yet to be collected").first()
    assert said is not None
    assert "must be annealed again first" in said.body
