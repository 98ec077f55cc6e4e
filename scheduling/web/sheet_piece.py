"""The details of one piece of a strip: what one holder holds of one piece of equipment, and what else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

from django.urls import reverse

from scheduling.engine.spans import Span
from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import Sheet, Strip, StudioDays
from scheduling.web.drawing.curve import celsius
from scheduling.web.links import holder_link, whose
from scheduling.web.sheet_address import Address
from studios.models import EquipmentKind, Studio
from studios.thermal import Phase


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What the same holder holds of something else in these days."""

    equipment: str
    span: Span
    href: str


@dataclass(frozen=True, kw_only=True)
class Details:
    """A piece as it is read: whose, on what, through which phases, what goes on now, and what belongs to it.

    `opens` is when somebody unloads it, `cool` since when nothing but that is waited for.
    """

    studio: Studio
    uid: UUID
    equipment: str
    equipment_href: str
    title: str
    held: tuple[HeldSpan, ...]
    span: Span
    now: str
    now_c: float | None
    cool: int | None
    opens: int | None
    href: str
    face: str
    beside: tuple[Beside, ...]
    day: int

    @property
    def broken_at(self) -> object:
        """When its firing broke off, if it did."""
        return next((one.broken_at for one in self.held if one.broken_at is not None), None)


def piece_key(equipment: UUID, held: HeldSpan) -> str:
    """How a piece is named in an address."""
    return f"{equipment.hex}.{held.holder.uid.hex}"


def details_of(facts: Sheet, address: Address, now: int) -> Details | None:
    """The piece that an address opens; None where there is no such piece in these days, or none is asked."""
    for days in facts.studios:
        for strip in days.strips:
            held = tuple(one for one in strip.held if piece_key(strip.uid, one) == address.piece)
            if held:
                return _details(days, strip, held, address, now)
    return None


def _details(
    days: StudioDays, strip: Strip, held: tuple[HeldSpan, ...], address: Address, now: int
) -> Details:
    holder, first = held[0].holder, held[0]
    begins = {phase.kind: phase.span[0] for phase in first.phases}
    words, at_c = _now(first, now)
    return Details(
        studio=days.studio,
        uid=strip.uid,
        equipment=strip.name,
        equipment_href=reverse("equipment", args=[strip.uid]) if strip.rest_c is not None else "",
        title=whose(holder),
        held=held,
        span=(min(one.span[0] for one in held), max(one.span[1] for one in held)),
        now=words,
        now_c=at_c,
        cool=begins.get(Phase.WAITING) if Phase.COOLING in begins else None,
        opens=begins.get(Phase.UNLOADING),
        href=holder_link(holder),
        face=holder.face,
        beside=tuple(_beside(days, strip, holder.uid, address)),
        day=_column(days, first.span[0]),
    )


def _now(held: HeldSpan, now: int) -> tuple[str, float | None]:
    """What is going on with it in this minute, and how hot it is by calculation."""
    for phase in held.phases:
        if phase.span[0] <= now < phase.span[1]:
            return phase.kind.value, None if phase.from_c is None else celsius(phase, now)
    return "", None


def _beside(days: StudioDays, strip: Strip, holder: UUID, address: Address) -> Iterator[Beside]:
    for other in days.strips:
        for one in other.held:
            if one.holder.uid == holder and other.uid != strip.uid:
                href = address.opening(piece_key(other.uid, one))
                yield Beside(equipment=other.name, span=one.span, href=href)


def _column(days: StudioDays, minute: int) -> int:
    """In which of the days it begins, from 0; a single day has no columns."""
    return sum(at <= minute for _, at in days.days[1:])


def kind_said(kind: str, name: str) -> str:
    """The kind of a piece of equipment, where its name does not say it already."""
    label = str(EquipmentKind(kind).label)
    return "" if kind in name.lower() or label.lower() in name.lower() else label
