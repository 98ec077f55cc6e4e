"""The pieces of a class: listed one by one, they go the same way as those of a kiln job."""

from __future__ import annotations

import pytest
import time_machine

from scheduling.errors import InvalidInput, NotAllowed
from scheduling.models import (
    Collection,
    Firing,
    Message,
    Piece,
    PieceState,
    Session,
)
from scheduling.services.cancelling import cancel_session
from scheduling.services.moving import move_session
from scheduling.services.pick_up import mark_collected, unload
from scheduling.services.pieces import list_pieces
from tests.invariants import broken
from tests.services.test_booking import book as book_class
from tests.services.test_booking import firing_of
from tests.services.test_pick_up import sits
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def out(town: Town, firing: Firing, shelf: str) -> None:
    unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), shelf))


def told(subject: str) -> list[str]:
    return sorted(Message.objects.filter(subject__startswith=subject).values_list("person__name", flat=True))


class TestOfAClass:
    @pytest.fixture
    def session(self, town: Town, clock: time_machine.Traveller) -> Session:
        """A blowing class on Tuesday evening, booked on Monday; both students sit in it."""
        clock.move_to(local(0, 9))
        session = book_class(town, "blowing", local(1, 18))
        sits(session, town.student, 1)
        sits(session, town.other_student, 2)
        return session

    def test_its_pieces_go_the_same_way(
        self, town: Town, session: Session, clock: time_machine.Traveller
    ) -> None:
        clock.move_to(local(1, 21, 30))
        listed = list_pieces(
            actor=town.instructor, session=session, counts={town.student: 2, town.other_student: 1}
        )
        inside = {(piece.state, piece.place) for piece in listed}
        clock.move_to(local(2, 12))
        out(town, firing_of(session), "shelf 3")
        mark_collected(
            actor=town.technician, collection=Collection.objects.get(person=town.student), signed_by="S."
        )

        now = [(piece.maker.name, piece.state) for piece in session.pieces.order_by("number") if piece.maker]
        assert inside == {("in-kiln", firing_of(session).equipment.name)}
        assert now == [("Student", "handed-over"), ("Student", "handed-over"), ("Other_Student", "ready")]
        assert told("To be collected") == ["Other_Student", "Student"]
        assert broken() == []

    def test_listed_again_only_what_is_more_is_added(self, town: Town, session: Session) -> None:
        list_pieces(actor=town.instructor, session=session, counts={town.student: 2})

        more = list_pieces(
            actor=town.instructor, session=session, counts={town.student: 3, town.other_student: 1}
        )

        assert len(more) == 2
        assert [piece.number for piece in session.pieces.order_by("number")] == [1, 2, 3, 4]
        assert {piece.state for piece in more} == {PieceState.EXPECTED}

    def test_moved_they_go_into_the_firing_that_it_has_then_and_called_off_they_are_never_made(
        self, town: Town, session: Session
    ) -> None:
        list_pieces(actor=town.instructor, session=session, counts={town.student: 2})

        move_session(actor=town.instructor, session=session, starts_at=local(2, 18))
        stands = session.pieces.filter(stands__load__firing=firing_of(session)).count()
        cancel_session(actor=town.instructor, session=session)

        assert stands == 2
        assert not Piece.objects.exists()

    def test_only_who_sat_in_it_made_something(self, town: Town, session: Session) -> None:
        with pytest.raises(InvalidInput, match="has no seat"):
            list_pieces(actor=town.instructor, session=session, counts={town.manager: 1})
        with pytest.raises(InvalidInput, match="more than 40"):
            list_pieces(actor=town.instructor, session=session, counts={town.student: 41})
        with pytest.raises(NotAllowed):
            list_pieces(actor=town.student, session=session, counts={town.student: 1})

        assert not Piece.objects.exists()
