"""What goes into a firing and comes out of it, piece by piece, for whoever loads and unloads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from uuid import UUID

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.models import BookingStatus, Firing, JobStep, Load, Piece, Stand
from studios.models import Person
from studios.selectors import studios_where


@dataclass(frozen=True, kw_only=True)
class ListedPiece:
    """One piece of a load: how it is marked on the pictures, and where it stands, if that is given."""

    mark: str
    piece: Piece
    stand: Stand

    @property
    def whose(self) -> str:
        """Its maker, with an account or without one."""
        return self.piece.maker.name if self.piece.maker is not None else self.piece.maker_name


@dataclass(frozen=True, kw_only=True)
class ListedLoad:
    """One load; where several share the firing its letter goes before the numbers.

    `worked_cold`: the hours at the cold station that come after it, with the pieces that each is for.
    """

    letter: str
    load: Load
    pieces: tuple[ListedPiece, ...]
    worked_cold: tuple[JobStep, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FiringList:
    """A firing with its loads, for whoever stands at the kiln."""

    firing: Firing
    loads: tuple[ListedLoad, ...]

    @property
    def pieces(self) -> list[ListedPiece]:
        return [piece for load in self.loads for piece in load.pieces]


def firing_list(*, uid: UUID, person: Person) -> FiringList | None:
    """A firing's list, for whoever sees names where it is; None for everybody else."""
    rows = Firing.objects.filter(
        uid=uid, equipment__studio__in=studios_where(person, "see-names"), status=BookingStatus.BOOKED
    )
    firing = rows.select_related("equipment__studio").first()
    if firing is None:
        return None
    loads = list(firing.loads.select_related("job", "session__course", "owner", "glass").order_by("pk"))
    return FiringList(firing=firing, loads=tuple(_listed(loads)))


def _listed(loads: Sequence[Load]) -> list[ListedLoad]:
    several = len(loads) > 1
    return [
        _load(load, ascii_uppercase[at % len(ascii_uppercase)] if several else "")
        for at, load in enumerate(loads)
    ]


def _load(load: Load, letter: str) -> ListedLoad:
    related = ("piece__maker", "piece__size__mould", "piece__job__owner")
    stands = load.stands.select_related(*related).order_by("piece__number", "pk")
    pieces = tuple(
        ListedPiece(mark=f"{letter}{stand.piece.number}", piece=stand.piece, stand=stand) for stand in stands
    )
    cold = load.steps.filter(does=Handwork.COLD_WORK).select_related("equipment").prefetch_related("of")
    return ListedLoad(letter=letter, load=load, pieces=pieces, worked_cold=tuple(cold.order_by("starts_at")))
