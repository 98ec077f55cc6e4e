"""Kept seats whose time has passed: void for everybody at once, and given up by whoever needs the room."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.utils import timezone

from scheduling.models import Seat, SeatStatus, Session
from scheduling.selectors.seats import is_past
from scheduling.services import line
from scheduling.services.bench import lock_torches
from scheduling.services.freeing import give_up, give_up_torches, past_torches
from scheduling.services.seating import taken_in
from scheduling.services.transactions import lock, one_write
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


def lock_bench(torch: Equipment, person: Person, *, besides: Iterable[Equipment] = ()) -> None:
    """Lock a torch and a person; torches there that were kept too long, and their oxygen, are free first."""
    past = past_torches(torch.studio)
    lock_torches([torch, *besides, *(seat.torch for seat in past if seat.torch)], [person.pk])
    give_up_torches(past)


def _give_up(past: list[Seat]) -> None:
    """Seats in a class; an offer that has lapsed costs its place in the line."""
    give_up(past)
    for seat in past:
        line.lapsed(seat)


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
    return len(give_up_torches(past))
