"""An invented studio with kilns, staffed by day, and work that is sent to it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from scheduling.engine.kiln_work.asked import Aim, KilnShelves, MouldAsked, PieceAsked, WorkAsked
from scheduling.engine.kiln_work.routes import ROUTES, RouteName
from scheduling.engine.packing import Footprint, Shelf
from scheduling.engine.records import Apparatus, Duty, Kind, StudioRecord, SupplyRecord, Taken, Use
from scheduling.engine.spans import Span
from scheduling.engine.world import World
from studios.thermal import Body, Glass, Policy

HOUR, DAY = 60, 24 * 60
POWER = 3
FUSING = Glass(
    name="fusing",
    expansion_per_k=90e-7,
    annealing_c=516,
    strain_c=480,
    softening_c=680,
    youngs_pa=70e9,
    poisson=0.22,
    conductivity_w_per_m_k=1.4,
    density_kg_per_m3=2500,
    heat_capacity_j_per_kg_k=1170,
)
FIBRE = Body(tau_h=1.6, ceiling_c=1150, power_kw=2.5, ambient_c=22)
BRICK = Body(tau_h=4.0, ceiling_c=1180, power_kw=6.0, ambient_c=22)
# A body that is warm and cold again within the hour: many nights in few minutes.
QUICK = Body(tau_h=0.1, ceiling_c=1300, power_kw=3, ambient_c=25)


def power(studio_id: int) -> int:
    """The feeder of a studio."""
    return POWER + studio_id - 1


def kiln(number: int, body: Body | None = BRICK, **facts: Any) -> Apparatus:
    """One kiln, of studio 1 if it is not said."""
    common: dict[str, Any] = {
        "studio_id": 1,
        "active": True,
        "kind": Kind.KILN,
        "name": f"Kiln {number}",
        "number": number,
        "places": 1,
        "station_id": None,
        "bodies": () if body is None else ((0, body),),
        "gas_fired": False,
        "working_c": None,
        "touch_c": 50.0,
        "prepare_min": 30,
        "clear_min": 20,
        "capacity_cm2": 6000,
        "controller_segments": None,
        "draws": (),
    }
    return Apparatus(id=number, **{**common, **facts})


def cold_station(number: int = 9, **facts: Any) -> Apparatus:
    own: dict[str, Any] = {
        "kind": Kind.COLD_STATION,
        "name": "Cold station",
        "prepare_min": 5,
        "clear_min": 10,
    }
    return kiln(number, None, **{**own, **facts})


def daily(opens: int, closes: int, days: int) -> tuple[Span, ...]:
    """The same hours on every day."""
    return tuple((day * DAY + opens * HOUR, day * DAY + closes * HOUR) for day in range(days))


def studio(days: int, hours: Mapping[Duty, tuple[Span, ...]], number: int = 1) -> StudioRecord:
    """Staffed from 9 to 21 but for the duties whose hours are given."""
    by_day = daily(9, 21, days)
    return StudioRecord(
        id=number,
        name=("Mill", "Quay")[number - 1],
        zone=ZoneInfo("UTC"),
        fahrenheit=False,
        notice_min=0,
        electric_unattended=True,
        hold_gap_min=60,
        policy=Policy(),
        staffed={duty: hours.get(duty, by_day) for duty in Duty},
    )


def world(
    *things: Apparatus,
    days: int = 42,
    taken: Iterable[Taken] = (),
    feeder: float = 100.0,
    uses: Sequence[Use] = (),
    hours: Mapping[Duty, tuple[Span, ...]] | None = None,
    now: int = 0,
) -> World:
    claims = sorted(taken, key=lambda claim: claim.span)
    studios = {each.studio_id for each in things} | {1}
    return World(
        now=now,
        horizon=(0, days * DAY),
        studios={number: studio(days, hours or {}, number) for number in sorted(studios)},
        apparatus={each.id: each for each in things},
        taken={each.id: tuple(c for c in claims if c.apparatus_id == each.id) for each in things},
        supplies={
            power(number): SupplyRecord(id=power(number), name="Feeder", unit="kW", limit=feeder, uses=uses)
            for number in sorted(studios)
        },
    )


def taken(number: int, *span: int) -> Taken:
    begin, end = span
    return Taken(apparatus_id=number, place=1, span=(begin, end), core=(begin, end), held_by="other")


def shelf(length_mm: int, width_mm: int, margin_mm: int = 10, spacing_mm: int = 12) -> Shelf:
    return Shelf(length_mm=length_mm, width_mm=width_mm, margin_mm=margin_mm, spacing_mm=spacing_mm)


def shelves(kiln_id: int, length_mm: int, width_mm: int, levels: int = 1, **prices: float) -> KilnShelves:
    return KilnShelves(kiln_id=kiln_id, shelf=shelf(length_mm, width_mm), levels=levels, **prices)


def square(side_mm: int, mould: MouldAsked | None = None) -> PieceAsked:
    return PieceAsked(footprint=Footprint(length_mm=side_mm, width_mm=side_mm), mould=mould)


def disc(side_mm: int, mould: MouldAsked | None = None) -> PieceAsked:
    return PieceAsked(footprint=Footprint(length_mm=side_mm, width_mm=side_mm, round=True), mould=mould)


def mould(
    number: int, side_mm: int, *, count: int, holds: int = 1, is_round: bool = False, **facts: Any
) -> MouldAsked:
    footprint = Footprint(length_mm=side_mm, width_mm=side_mm, round=is_round)
    return MouldAsked(
        id=number, name=f"Mould {number}", footprint=footprint, holds=holds, count=count, **facts
    )


def work(*pieces: PieceAsked, kilns: Sequence[KilnShelves], **facts: Any) -> WorkAsked:
    """Work that arrives at 9 on the first day, to be fused."""
    common: dict[str, Any] = {
        "title": "Harvest fair",
        "glass": FUSING,
        "thickness_mm": 6.0,
        "route": ROUTES[RouteName.FUSE],
        "arrives": 9 * HOUR,
        "due": None,
        "aim": Aim.EARLIEST,
    }
    return WorkAsked(pieces=pieces, kilns=tuple(kilns), **{**common, **facts})


# Three kilns, and what a harvest fair sends: 28 squares and 12 rounds of three sizes.
KILNS = (
    kiln(1, FIBRE, prepare_min=20, clear_min=15, capacity_cm2=900, draws=((POWER, 2.5),)),
    kiln(2, BRICK, prepare_min=30, clear_min=20, capacity_cm2=1600, draws=((POWER, 4.0),)),
    kiln(3, BRICK, prepare_min=45, clear_min=30, capacity_cm2=6000, draws=((POWER, 9.0),)),
)
SHELVES = (
    shelves(1, 300, 300, kwh_price=0.3, hour_price=1.0, shelf_wash_price=2.0),
    shelves(2, 400, 400, 2, kwh_price=0.3, hour_price=2.0, shelf_wash_price=3.0),
    shelves(3, 1000, 600, 2, kwh_price=0.3, hour_price=4.0, shelf_wash_price=5.0),
)


def fair(**facts: Any) -> WorkAsked:
    """The harvest fair's dishes, fused and then slumped over moulds."""
    sizes = {side: mould(side, side + 10, count=6) for side in (120, 180, 250)}
    rounds = {side: mould(1000 + side, side + 10, count=4, is_round=True) for side in (120, 180, 250)}
    squares = [
        square(side, sizes[side]) for side, count in ((120, 12), (180, 10), (250, 6)) for _ in range(count)
    ]
    discs = [disc(side, rounds[side]) for side in (120, 180, 250) for _ in range(4)]
    common: dict[str, Any] = {
        "kilns": SHELVES,
        "route": ROUTES[RouteName.FUSE_SLUMP],
    }
    return work(*facts.pop("pieces", (*squares, *discs)), **{**common, **facts})
