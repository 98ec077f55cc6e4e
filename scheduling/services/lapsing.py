"""Kept seats whose time has passed: void for everybody at once, and given up by whoever needs the room."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.utils import timezone

from scheduling.models import Seat, SeatStatus, Session
from scheduling.selectors.seats import is_past
from scheduling.services import audit, line
from scheduling.services.bench import free_torches, lock_torches, past_torches
from scheduling.services.cancelling import release_seat
from scheduling.services.seating import taken_in
from scheduling.services.transactions import lock, one_write
from scheduling.wording import place_of
from studios.models import Equipment, Person, Studio


def standing_in(session: Session) -> list[Seat]:
    """The seats of a locked session that are somebody's; what was kept too long goes to the line first."""
    taken = taken_in(session)
    past = [seat for seat in taken if is_past(seat)]
    if not past:
        return taken
    _give_up(past)
    line.offer_free_seats(session)
    return taken_in(session)


def lock_bench(torch: Equipment, person: Person) -> None:
    """Lock a torch and a person; torches there that were kept too long, and their oxygen, are free first."""
    past = past_torches(torch.studio)
    lock_torches([torch, *(seat.torch for seat in past if seat.torch)], [person.pk])
    _give_up(_still_past(past))


def _still_past(past: Iterable[Seat]) -> list[Seat]:
    """Those that nobody has given up, booked or kept longer before the locks were ours."""
    keys = [seat.pk for seat in past]
    rows = Seat.objects.filter(pk__in=keys).select_related("torch", "studio", "person", "booking")
    return [seat for seat in rows.order_by("pk") if is_past(seat)]


def _give_up(past: list[Seat]) -> None:
    """The seats are nobody's any more; torches in bench time are dark again."""
    free_torches([seat for seat in past if seat.booking_id])
    for seat in past:
        release_seat(seat)
        line.lapsed(seat)
        audit.note(actor=None, did="lapse", subject=seat, studio=seat.studio, said=place_of(seat))


def lapse_kept(between: Callable[[], None] = lambda: None) -> int:
    """Give up everything that was kept too long, class by class and bench by bench; returns how many seats.

    What comes free in a class is offered to its line. `between` is called before each of them.
    """
    past = Seat.objects.filter(status=SeatStatus.KEPT, kept_until__lte=timezone.now())
    sessions = past.filter(session__isnull=False).order_by("session_id")
    benches = past.filter(session__isnull=True).order_by("studio_id")
    lapsed = 0
    for key in list(sessions.values_list("session_id", flat=True).distinct()):
        between()
        lapsed += _lapse_in(key)
    for studio in Studio.objects.filter(pk__in=benches.values("studio_id")).order_by("pk"):
        between()
        lapsed += _lapse_at(studio)
    return lapsed


@one_write
def _lapse_in(key: int) -> int:
    lock(sessions=[key])
    session = Session.objects.select_related("course", "studio", "booking").get(pk=key)
    past = [seat for seat in taken_in(session) if is_past(seat)]
    if past:
        _give_up(past)
        line.offer_free_seats(session)
    return len(past)


@one_write
def _lapse_at(studio: Studio) -> int:
    past = past_torches(studio)
    lock_torches(seat.torch for seat in past if seat.torch)
    still = _still_past(past)
    _give_up(still)
    return len(still)
