"""The torch bench for a stretch of time: which torches are free, and what their supplies still give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from scheduling.engine.clock import moment
from scheduling.engine.spans import Span, covers
from scheduling.models import Outage, PersonSpan, Seat
from scheduling.selectors.held import HeldSpan, Viewer, held_between
from scheduling.selectors.seats import kept_for
from scheduling.selectors.torch_starts import OtherHours, bench_answers, other_hours
from scheduling.selectors.torch_supplies import SupplyAt, supplies_at
from scheduling.snapshot import DAY, bench_spans
from studios.models import Equipment, EquipmentKind, Person, Studio
from studios.selectors import not_signed_off

SIT = 120


@dataclass(frozen=True, kw_only=True)
class TorchPlace:
    """One numbered torch, and what it is taken by in the stretch, if anything."""

    torch: Equipment
    held: tuple[HeldSpan, ...]
    down: str
    why_not: tuple[str, ...] = ()

    @property
    def state(self) -> str:
        """free, mine, class, taken, or out of use."""
        if self.down:
            return "out of use"
        if not self.held:
            return "free"
        if any(one.holder.face == "bench" and one.holder.mine for one in self.held):
            return "mine"
        return "class" if self.held[0].holder.face == "session" else "taken"

    @property
    def free(self) -> bool:
        return self.state == "free"

    @property
    def can_be_had(self) -> bool:
        """It is free, and nothing that it draws on is in the way."""
        return self.free and not self.why_not

    @property
    def until(self) -> int:
        """The minute from which nothing in the stretch holds it any more."""
        return max((one.exclusive[1] for one in self.held), default=0)


@dataclass(frozen=True, kw_only=True)
class TorchPlan:
    """The bench of one studio for one stretch of time."""

    studio: Studio
    span: Span
    places: tuple[TorchPlace, ...]
    supplies: tuple[SupplyAt, ...]
    bench_hours: tuple[Span, ...]
    others: OtherHours
    kept: Seat | None = None

    @property
    def free_count(self) -> int:
        return sum(place.free for place in self.places)

    @property
    def in_bench_hours(self) -> bool:
        """Open bench time covers the whole stretch."""
        return covers(self.bench_hours, *self.span)

    @property
    def still(self) -> int:
        """How many of the free torches can be lit besides, at the same time."""
        return min([self.free_count, *(one.still for one in self.supplies if one.each)])

    @property
    def binding(self) -> SupplyAt | None:
        """What lets fewer be lit than are free, if anything does; what feeds the fewest stands first."""
        return next((one for one in self.supplies if one.each and one.still < self.free_count), None)

    @property
    def common_reasons(self) -> tuple[str, ...]:
        """Why none of the free torches can be had, where it is the same for all of them."""
        reasons = {place.why_not for place in self.places if place.free}
        return reasons.pop() if len(reasons) == 1 else ()


def torch_benches(studios: QuerySet[Studio]) -> QuerySet[Studio]:
    """Those of the studios that have torches."""
    return studios.filter(equipment__kind=EquipmentKind.TORCH, equipment__active=True).distinct()


def next_bench_time(studio: Studio, now: int) -> Span:
    """At most two hours of the next open bench time within two weeks; without any, the two hours to come."""
    begin = now - now % 60 + 60
    for start, end in bench_spans(studio, (begin, begin + 14 * DAY)):
        if max(start, begin) + SIT <= end:
            return max(start, begin), max(start, begin) + SIT
    return begin, begin + SIT


def torch_plan(*, studio: Studio, span: Span, person: Person, viewer: Viewer) -> TorchPlan:
    """Every torch of the bench in the stretch, purge before and cooling after counted in."""
    torches = list(studio.equipment.filter(kind=EquipmentKind.TORCH, active=True).order_by("number", "name"))
    kept = kept_torch(person, studio, span)
    answers = bench_answers(
        person=person, studio=studio, torches=torches, span=span, keeps_one=kept is not None
    )
    return TorchPlan(
        studio=studio,
        span=span,
        places=_places(torches, span, viewer, answers.why),
        supplies=supplies_at(torches, span, dict(answers.left)),
        bench_hours=bench_spans(studio, (span[0] - DAY, span[1] + DAY)),
        others=other_hours(studio, span, answers.starts),
        kept=kept,
    )


def kept_torch(person: Person, studio: Studio, span: Span) -> Seat | None:
    """The torch in bench time that is kept for a person in some of these minutes."""
    met = kept_for(person).filter(session=None, studio=studio)
    return met.filter(starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])).first()


def _places(
    torches: Sequence[Equipment], span: Span, viewer: Viewer, why: Mapping[int, tuple[str, ...]]
) -> tuple[TorchPlace, ...]:
    margin = max((max(torch.prepare_min, torch.clear_min) for torch in torches), default=0)
    wide = (span[0] - margin, span[1] + margin)
    held = held_between(studio_ids={torch.studio_id for torch in torches}, span=wide, viewer=viewer)
    down = dict(
        Outage.objects.filter(
            equipment__in=torches, starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])
        ).values_list("equipment_id", "reason")
    )
    return tuple(
        TorchPlace(
            torch=torch,
            held=_in_the_way(torch, span, held),
            down=down.get(torch.pk, ""),
            why_not=why.get(torch.pk, ()),
        )
        for torch in torches
    )


def hindrances(*, person: Person, plan: TorchPlan, now: int) -> tuple[str, ...]:
    """Why a person can have none of the torches in the stretch, however many are free; in sentences."""
    busy = PersonSpan.objects.filter(
        person=person, starts_at__lt=moment(plan.span[1]), ends_at__gt=moment(plan.span[0])
    )
    found = {
        _("These hours have begun or are over; choose hours to come."): plan.span[0] < now,
        _("These hours are not open bench time, so a torch is had only through a class."): (
            not plan.in_bench_hours
        ),
        _("The studio signs people off before they work alone at a torch; ask its manager."): (
            bool(not_signed_off(person, plan.studio, {EquipmentKind.TORCH.value}))
        ),
        _("In these hours you have a seat or a class already; My seats lists it."): busy.exists(),
    }
    return tuple(sentence for sentence, holds in found.items() if holds)


def _in_the_way(torch: Equipment, span: Span, held: Sequence[HeldSpan]) -> tuple[HeldSpan, ...]:
    start, end = span[0] - torch.prepare_min, span[1] + torch.clear_min
    return tuple(
        one
        for one in held
        if one.equipment_id == torch.pk and one.exclusive[0] < end and one.exclusive[1] > start
    )
