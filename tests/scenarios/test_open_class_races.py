"""Many want the last room above a class's shelves, while the class closes them, moves or is called off."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine

from scheduling.models import Firing, JobStep, KilnJob, Session, Stand
from scheduling.services.cancelling import cancel_session
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.moving import move_session
from scheduling.services.offered_space import offer, withdraw
from scheduling.services.open_shelves import add_pieces, leave
from studios.models import Person
from tests.invariants import broken
from tests.scenarios.test_races import at_once, crowd
from tests.services.kiln_work import with_shelves
from tests.services.test_booking import book as book_class
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)
HALF_A_SHELF = [SizeAsked(count=1, length_mm=280, width_mm=300)]


@pytest.fixture(autouse=True)
def _monday() -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=True):
        yield


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows, so that every thread sees it."""
    return build_town()


@pytest.fixture
def session(town: Town) -> Session:
    """Tiles on Tuesday evening, in a kiln of two shelves of which the class keeps one."""
    with_shelves(town)
    session = book_class(town, "tiles", local(1, 18))
    offer(actor=town.instructor, firing=session.loads.get().firing)
    return session


def adds(town: Town, session: Session, person: Person) -> Callable[[], object]:
    firing = Firing.objects.get(loads__session=session)
    glass = town.glasses["fusing-90"]
    return lambda: add_pieces(actor=person, firing=firing, sizes=HALF_A_SHELF, glass=glass, thickness_mm=6.0)


def test_of_many_who_add_to_the_last_room_as_many_stand_there_as_there_is_room_for(
    town: Town, session: Session
) -> None:
    outcomes = at_once([adds(town, session, person) for person in crowd(town, 6)], 6)

    assert outcomes["done"] == 2
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "no-shelf-space"}
    assert Stand.objects.filter(level=2).count() == Stand.objects.count() == 2
    assert JobStep.objects.count() == 1
    assert broken() == []


def test_who_adds_while_the_class_closes_it_is_in_or_is_told_that_it_is_closed(
    town: Town, session: Session
) -> None:
    firing = Firing.objects.get()
    people = crowd(town, 3)

    def closes() -> object:
        return withdraw(actor=town.instructor, firing=Firing.objects.get(pk=firing.pk))

    outcomes = at_once([*(adds(town, session, person) for person in people), closes], 4)

    firing.refresh_from_db()
    assert firing.takes_more_until is None
    assert {outcome.split(":")[0] for outcome in outcomes} <= {"done", "no-shelf-space"}
    assert firing.loads.count() == 1 + KilnJob.objects.count() == outcomes["done"]
    assert broken() == []


@pytest.mark.parametrize("goes", ["called off", "moved"])
def test_who_adds_while_the_class_goes_has_a_firing_or_nothing(
    town: Town, session: Session, goes: str
) -> None:
    guest = add_pieces(
        actor=town.student,
        firing=Firing.objects.get(),
        sizes=[SizeAsked(count=1, length_mm=100, width_mm=100)],
        glass=town.glasses["fusing-90"],
        thickness_mm=6.0,
    )
    mine = Session.objects.get(pk=session.pk)

    def class_goes() -> object:
        if goes == "moved":
            return move_session(actor=town.instructor, session=mine, starts_at=local(8, 18))
        return cancel_session(actor=town.instructor, session=mine)

    acts = [adds(town, session, town.other_student), class_goes]
    outcomes = at_once([*acts, lambda: leave(actor=town.student, job=guest)], 3)

    assert outcomes["done"] >= 2
    assert {outcome.split(":")[0] for outcome in outcomes} <= {"done", "no-shelf-space"}
    assert broken() == []
