"""Two invented studios for random worlds: what stands in them, what it draws, and what classes ask for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from scheduling.engine.records import Apparatus, FiringAsk, Kind
from studios.thermal import Body, Glass, Piece, Policy, Recipe, Shape

SOFT = Glass(
    name="soft",
    expansion_per_k=104e-7,
    annealing_c=507,
    strain_c=460,
    softening_c=650,
    youngs_pa=70e9,
    poisson=0.22,
    conductivity_w_per_m_k=1.4,
    density_kg_per_m3=2500,
    heat_capacity_j_per_kg_k=1170,
)
NEAR = replace(SOFT, name="near", expansion_per_k=96e-7, annealing_c=511, strain_c=475, softening_c=690)
HARD = replace(SOFT, name="hard", expansion_per_k=33e-7, annealing_c=560, strain_c=512, softening_c=820)
GLASSES = (SOFT, NEAR, HARD)
# Soft and near share a firing, near and hard never do. Short soaks, so that a night is a few hours.
POLICY = Policy(soak_floor_min_per_mm=2)

HOLES = (
    Body(tau_h=0.3, ceiling_c=1400, power_kw=60, ambient_c=30),
    Body(tau_h=0.2, ceiling_c=1300, power_kw=50, ambient_c=35),
    Body(tau_h=0.45, ceiling_c=1350, power_kw=50, ambient_c=25),
)
WARMERS = (
    Body(tau_h=0.1, ceiling_c=900, power_kw=8, ambient_c=30),
    Body(tau_h=0.2, ceiling_c=800, power_kw=8, ambient_c=30),
)
OVENS = (
    Body(tau_h=0.1, ceiling_c=1300, power_kw=3, ambient_c=25),
    Body(tau_h=0.2, ceiling_c=1250, power_kw=3, ambient_c=35),
    Body(tau_h=0.3, tau_low_h=0.5, ceiling_c=1200, power_kw=4, ambient_c=30),
)
BODIES = {
    Kind.GLORY_HOLE: HOLES,
    Kind.PIPE_WARMER: WARMERS,
    Kind.ANNEALER: OVENS,
    Kind.KILN: OVENS,
}

OXYGEN, GAS, POWER, EXHAUST, FAR_OXYGEN, FAR_POWER = 1, 2, 3, 4, 11, 12
# Supply: name, unit, the greatest rates that worlds have.
SUPPLIES = {
    OXYGEN: ("oxygen", "L/min", (9.0, 12.0)),
    GAS: ("gas", "kW", (8.0, 9.0, 13.0, 16.0)),
    POWER: ("electricity", "kW", (9.0, 11.0, 15.0)),
    EXHAUST: ("exhaust", "m3/h", (300.0, 600.0)),
    FAR_OXYGEN: ("oxygen", "L/min", (6.0, 9.0)),
    FAR_POWER: ("electricity", "kW", (6.0, 8.0)),
}


def thing(number: int, kind: Kind, *draws: tuple[int, float], **facts: Any) -> Apparatus:
    """One piece of equipment; those from 20 on stand in the other studio."""
    common: dict[str, Any] = {
        "studio_id": 2 if number > 20 else 1,
        "active": True,
        "name": f"{kind.value} {number}",
        "number": number,
        "places": 1,
        "station_id": None,
        "bodies": (),
        "gas_fired": False,
        "working_c": None,
        "touch_c": 50.0,
        "prepare_min": 0,
        "clear_min": 0,
        "capacity_cm2": 0,
        "controller_segments": None,
    }
    return Apparatus(id=number, kind=kind, draws=draws, **{**common, **facts})


THINGS = (
    thing(1, Kind.FURNACE, places=3, working_c=1150.0),
    thing(2, Kind.GLORY_HOLE, (GAS, 7.0), (EXHAUST, 100.0), gas_fired=True, working_c=1100.0),
    thing(3, Kind.BENCH, station_id=2),
    thing(4, Kind.PIPE_WARMER, (GAS, 1.0), gas_fired=True, working_c=500.0, station_id=2),
    # Its record says two places; a glory hole is still used by one session at a time.
    thing(5, Kind.GLORY_HOLE, (GAS, 5.0), gas_fired=True, working_c=1050.0, places=2),
    thing(6, Kind.BENCH, (POWER, 1.0), station_id=5),
    thing(7, Kind.PIPE_WARMER, (POWER, 2.0), working_c=520.0, station_id=5),
    thing(8, Kind.TORCH, (OXYGEN, 6.0), (GAS, 1.0), prepare_min=5, clear_min=5),
    thing(9, Kind.TORCH, (OXYGEN, 3.0), (GAS, 1.0), prepare_min=5, clear_min=5),
    thing(10, Kind.TORCH, (OXYGEN, 3.0), (GAS, 1.0), prepare_min=8),
    thing(11, Kind.ANNEALER, (POWER, 5.0), clear_min=10, capacity_cm2=100),
    thing(12, Kind.ANNEALER, (POWER, 4.0), capacity_cm2=160),
    thing(13, Kind.ANNEALER, (GAS, 4.0), gas_fired=True, clear_min=15, capacity_cm2=120),
    thing(14, Kind.KILN, (POWER, 6.0), prepare_min=20, clear_min=15, capacity_cm2=100),
    thing(15, Kind.COLD_STATION, (EXHAUST, 300.0), places=2, prepare_min=3),
    thing(16, Kind.TORCH, (OXYGEN, 1.0), active=False),
    thing(17, Kind.FURNACE, places=2, working_c=1120.0),
    thing(21, Kind.FURNACE, places=1, working_c=1150.0),
    thing(22, Kind.TORCH, (FAR_OXYGEN, 6.0), prepare_min=4, clear_min=2),
    thing(23, Kind.TORCH, (FAR_OXYGEN, 3.0), prepare_min=4, clear_min=2),
    thing(24, Kind.ANNEALER, (FAR_POWER, 4.0), clear_min=5, capacity_cm2=100),
    thing(25, Kind.KILN, (FAR_POWER, 4.0), clear_min=5, capacity_cm2=100),
    thing(26, Kind.GLORY_HOLE, (FAR_POWER, 3.0), working_c=1000.0),
)
# The same, but that the second glory hole, with what belongs to it, draws and works just as the first.
_MODELS = {each.id: each for each in THINGS}
TWINS = tuple(
    replace(_MODELS[each.id - 3], id=each.id, number=each.number, station_id=each.station_id)
    if each.id in {5, 6, 7}
    else each
    for each in THINGS
)

Stations = tuple[tuple[Kind, int], ...]
# What classes need to work at, and what their pieces go into.
NEEDS: tuple[tuple[Stations, tuple[Kind, ...]], ...] = (
    (((Kind.FURNACE, 1), (Kind.GLORY_HOLE, 1)), (Kind.ANNEALER,)),
    (((Kind.GLORY_HOLE, 1), (Kind.TORCH, 1)), (Kind.ANNEALER,)),
    (((Kind.FURNACE, 2), (Kind.GLORY_HOLE, 2)), (Kind.ANNEALER,)),
    (((Kind.FURNACE, 1),), ()),
    (((Kind.FURNACE, 2),), (Kind.ANNEALER,)),
    (((Kind.GLORY_HOLE, 1),), ()),
    (((Kind.GLORY_HOLE, 1),), ()),
    (((Kind.GLORY_HOLE, 2),), ()),
    (((Kind.TORCH, 2),), (Kind.ANNEALER,)),
    (((Kind.TORCH, 1),), ()),
    (((Kind.COLD_STATION, 1),), (Kind.KILN,)),
    (((Kind.TORCH, 1), (Kind.COLD_STATION, 1)), (Kind.ANNEALER, Kind.KILN)),
    (((Kind.BENCH, 1),), ()),
    (((Kind.PIPE_WARMER, 1),), (Kind.ANNEALER,)),
    ((), (Kind.ANNEALER,)),
    ((), (Kind.ANNEALER,)),
    ((), (Kind.ANNEALER,)),
    ((), (Kind.KILN,)),
)


def piece(glass: Glass, thickness_mm: float) -> Piece:
    """A bead or a small vessel."""
    return Piece(glass=glass, shape=Shape.BEAD, thickness_mm=thickness_mm)


def fired(kind: Kind, wanted: Piece, footprint_cm2: int) -> FiringAsk:
    """Hot pieces into an annealer; into a kiln those that were never annealed."""
    recipe = Recipe.ANNEAL if kind is Kind.ANNEALER else Recipe.BATCH_ANNEAL
    return FiringAsk(kind=kind, recipe=recipe, piece=wanted, footprint_cm2=footprint_cm2)
