"""A plan for a kiln job as it is read: its nights, what stands where, its handwork, and what it costs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.safestring import SafeString, mark_safe

from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned, from_json
from scheduling.engine.kiln_work.routes import ROUTES, RouteName
from scheduling.engine.spans import Span
from scheduling.models import JobSize, KilnAnswer, KilnJob, Piece
from scheduling.selectors.kiln_curves import Curves, curves_of
from scheduling.selectors.kiln_ready import HandedBack, handed_back_by
from scheduling.web.drawing.frame import Frame
from scheduling.web.drawing.held import held_strip
from scheduling.web.drawing.nights import day_strip, days_over
from scheduling.web.drawing.shelves import Standing
from scheduling.web.kiln_shelves import ShelfShown, Stood, shelves_of
from scheduling.web.shown import Sample, legend_of
from scheduling.wording import amount, sized
from studios.models import Equipment, Studio
from studios.thermal import Phase


@dataclass(frozen=True, kw_only=True)
class PieceShown:
    """A piece of the roster; one that is only thought of in a what-if has no label."""

    number: int
    label: str = ""
    whose: str = ""
    size: str = ""
    name: str = ""
    stands: list[str] = field(default_factory=list)
    studios: list[str] = field(default_factory=list)

    @property
    def studio(self) -> str:
        """Where it is fired."""
        return ", ".join(dict.fromkeys(self.studios))


@dataclass(frozen=True, kw_only=True)
class LoadShown:
    """One load: its number in order of time, its kiln, its strip, and a picture of every shelf."""

    number: int
    load: LoadPlanned
    kiln: Equipment
    steps: int
    strip: SafeString
    shelves: list[ShelfShown]
    cost: str
    kinds: frozenset[Phase]

    @property
    def studio(self) -> Studio:
        return self.kiln.studio

    @property
    def fill_percent(self) -> int:
        """How much of all its shelves glass covers."""
        return round(100 * sum(self.load.fill) / len(self.load.fill)) if self.load.fill else 0


@dataclass(frozen=True, kw_only=True)
class HandworkShown:
    """Handwork for a load, by whose clock, and at which station, where it is at one.

    `of` names the pieces that are worked; `of_load` is 0 for what comes from no load of the plan.
    """

    work: HandworkPlanned
    studio: Studio
    station: Equipment | None
    of_load: int
    of: list[str]


@dataclass(frozen=True, kw_only=True)
class SizeCost:
    """What the pieces of one size cost."""

    size: str
    count: int
    each: str
    together: str


@dataclass(frozen=True, kw_only=True)
class PlanShown:
    """A whole plan; times are by the clock of the studio at which it begins."""

    plan: WorkPlanned
    studio: Studio
    days: SafeString
    loads: list[LoadShown]
    handwork: list[HandworkShown]
    pieces: list[PieceShown]
    costs: list[SizeCost]
    cost: str
    gap: int
    handed_back: list[HandedBack]

    @property
    def split(self) -> bool:
        """Whether pieces are fired at several studios."""
        return len(self.handed_back) > 1

    @property
    def last_zone(self) -> ZoneInfo:
        """By the clock of the studio at which the last piece is handed back."""
        return self.handed_back[-1].studio.zone

    @property
    def zone(self) -> ZoneInfo:
        return self.studio.zone

    @property
    def visits(self) -> int:
        return len(self.plan.visits)


def shown(answer: KilnAnswer, pieces: Sequence[Piece]) -> PlanShown | None:
    """An answer's plan; None where it has none, or a kiln of it is no more."""
    if answer.plan is None:
        return None
    plan = from_json(answer.plan)
    kilns = _equipment(plan)
    if any(load.kiln_id not in kilns for load in plan.loads) or not (plan.loads or plan.handwork):
        return None
    loads = sorted(plan.loads, key=lambda load: (load.begins, load.key))
    ready = handed_back_by(plan)
    studios = {each.studio.pk: each.studio for each in ready}
    studio = studios[loads[0].studio_id] if loads else ready[0].studio
    roster = _roster(answer, pieces, loads, studios)
    return PlanShown(
        plan=plan,
        studio=studio,
        days=day_strip(_frame(plan, studio), studio.zone) if loads else SafeString(),
        loads=_loads(answer, plan, loads, kilns, roster) if loads else [],
        handwork=_handwork(plan, loads, kilns, studios, roster),
        pieces=roster,
        costs=_costs(answer.job, plan, pieces, studios),
        cost=cost_of(plan, studios),
        gap=max(0, plan.shelves - plan.shelves_bound),
        handed_back=ready,
    )


def legend(loads: Iterable[LoadShown]) -> list[Sample]:
    """What the fills of the strips mean, only those that are seen."""
    return legend_of(frozenset().union(*(load.kinds for load in loads)))


def _equipment(plan: WorkPlanned) -> dict[int, Equipment]:
    stations = {work.station_id for work in plan.handwork if work.station_id is not None}
    keys = {load.kiln_id for load in plan.loads} | stations
    return Equipment.objects.filter(pk__in=keys).select_related("studio").in_bulk()


def _frame(plan: WorkPlanned, studio: Studio) -> Frame:
    return days_over([(load.begins, load.done) for load in plan.loads], studio.zone)


def _loads(
    answer: KilnAnswer,
    plan: WorkPlanned,
    loads: Sequence[LoadPlanned],
    kilns: Mapping[int, Equipment],
    roster: Sequence[PieceShown],
) -> list[LoadShown]:
    first = kilns[loads[0].kiln_id].studio
    frame = _frame(plan, first)
    thickness = float(answer.what_if.get("thickness_mm") or answer.job.thickness_mm)
    curves = curves_of(answer.job, plan, thickness)
    return [
        LoadShown(
            number=number,
            load=load,
            kiln=kilns[load.kiln_id],
            steps=len(ROUTES[RouteName(answer.job.route)].firings),
            strip=_strip(load, curves, frame),
            shelves=shelves_of(kilns[load.kiln_id], _stood(load, roster), load.fill),
            cost=_price(load.cost, kilns[load.kiln_id].studio),
            kinds=frozenset(phase.kind for phase in curves.phases[load.key]),
        )
        for number, load in enumerate(loads, start=1)
    ]


def _strip(load: LoadPlanned, curves: Curves, frame: Frame) -> SafeString:
    visits: Span = (load.begins, load.unload)
    drawn = held_strip(curves.phases[load.key], visits, curves.staffed[load.studio_id], frame)
    return mark_safe(drawn)  # noqa: S308 - our own drawing, without a word in it


def _stood(load: LoadPlanned, roster: Sequence[PieceShown]) -> Iterable[Stood]:
    return (
        Stood(
            level=stand.level,
            at=Standing(
                number=str(roster[stand.piece].number),
                x_mm=stand.x_mm,
                y_mm=stand.y_mm,
                length_mm=stand.length_mm,
                width_mm=stand.width_mm,
                round=stand.round,
            ),
        )
        for stand in load.stands
    )


def _roster(
    answer: KilnAnswer, pieces: Sequence[Piece], loads: Sequence[LoadPlanned], studios: Mapping[int, Studio]
) -> list[PieceShown]:
    """The pieces in their order; what a what-if adds follows them. Each knows where it stands."""
    most = max((stand.piece for load in loads for stand in load.stands), default=-1) + 1
    studio = answer.job.studios.first()
    rows = [_piece(piece, studio) for piece in pieces]
    last = rows[-1].number if rows else 0
    rows += [PieceShown(number=last + more) for more in range(1, most - len(rows) + 1)]
    for number, load in enumerate(loads, start=1):
        for stand in load.stands:
            rows[stand.piece].stands.append(f"{number}/{stand.level}")
            rows[stand.piece].studios.append(studios[load.studio_id].name)
    return rows


def _piece(piece: Piece, studio: Studio | None) -> PieceShown:
    size = piece.size
    said = sized(size.length_mm, size.width_mm, studio, is_round=size.round) if size and studio else ""
    whose = piece.maker.name if piece.maker is not None else piece.maker_name
    name = size.name if size else ""
    return PieceShown(number=piece.number, label=piece.label, whose=whose, size=said, name=name)


def _handwork(
    plan: WorkPlanned,
    loads: Sequence[LoadPlanned],
    equipment: Mapping[int, Equipment],
    studios: Mapping[int, Studio],
    roster: Sequence[PieceShown],
) -> list[HandworkShown]:
    numbers = {load.key: number for number, load in enumerate(loads, start=1)}
    return [
        HandworkShown(
            work=work,
            studio=studios[work.studio_id],
            station=equipment.get(work.station_id) if work.station_id is not None else None,
            of_load=numbers.get(work.load, 0),
            of=[str(roster[piece].number) for piece in work.of],
        )
        for work in sorted(plan.handwork, key=lambda work: work.span)
    ]


def _costs(
    job: KilnJob, plan: WorkPlanned, pieces: Sequence[Piece], studios: Mapping[int, Studio]
) -> list[SizeCost]:
    """What the pieces of each size cost, where anything has a price; by itself in each currency."""
    if not plan.cost:
        return []
    at = {stand.piece: studios[load.studio_id] for load in plan.loads for stand in load.stands}
    found: dict[tuple[int, str], list[tuple[float, Studio]]] = {}
    for number, (piece, part) in enumerate(zip(pieces, plan.cost_of, strict=False)):
        if number in at:
            found.setdefault((piece.size_id or 0, at[number].currency), []).append((part, at[number]))
    sizes = {size.pk: size for size in job.sizes.all()}
    return [_size_cost(sizes[key], parts) for (key, _), parts in found.items() if key in sizes]


def _size_cost(size: JobSize, parts: Sequence[tuple[float, Studio]]) -> SizeCost:
    studio, together = parts[0][1], sum(part for part, _ in parts)
    return SizeCost(
        size=sized(size.length_mm, size.width_mm, studio, is_round=size.round),
        count=len(parts),
        each=_price(together / len(parts), studio),
        together=_price(together, studio),
    )


def cost_of(plan: WorkPlanned, studios: Mapping[int, Studio]) -> str:
    """What a plan costs, in each currency by itself."""
    found: dict[str, tuple[float, Studio]] = {}
    for load in plan.loads:
        studio = studios[load.studio_id]
        so_far, _ = found.get(studio.currency, (0.0, studio))
        found[studio.currency] = (so_far + load.cost, studio)
    return " + ".join(priced for cost, studio in found.values() if (priced := _price(cost, studio)))


def _price(cost: float, studio: Studio) -> str:
    return amount(Decimal(f"{cost:.2f}"), studio) if cost else ""
