"""The first start is the one that asking every minute finds, and a refusal never promises too late a one."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.engine.heat import COLD, lead_min, relit
from scheduling.engine.records import (
    Apparatus,
    Ask,
    ChargePlan,
    Duty,
    Engagement,
    FiringAsk,
    FiringRecord,
    Kind,
    Lot,
    Placement,
    PotRecord,
    Refusal,
    Store,
    StudioRecord,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.search import place
from scheduling.engine.spans import Span, union
from scheduling.engine.startspace.space import first_start
from scheduling.engine.world import World
from studios.thermal import Body, Glass, Piece, Policy, Recipe, Shape

HORIZON = 1500
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
HARD = replace(SOFT, name="hard", expansion_per_k=33e-7, annealing_c=560, strain_c=512, softening_c=820)
QUICK = Body(tau_h=0.1, ceiling_c=1300, power_kw=3, ambient_c=25)
SLOWER = Body(tau_h=0.16, ceiling_c=1250, power_kw=3, ambient_c=35)
ALWAYS_QUICK = ((0, QUICK),)
POLICY = Policy(soak_floor_min_per_mm=2)
QUICK_CHARGE = ChargePlan(
    turn_up_min=10, charges=2, charge_min=10, gap_min=20, fining_min=40, coming_down_min=10, charging_c=1260
)


def apparatus(number: int, kind: Kind, **facts: object) -> Apparatus:
    """One piece of equipment of studio 1."""
    common: dict[str, object] = {
        "id": number,
        "studio_id": 1,
        "active": True,
        "kind": kind,
        "name": f"{kind.value} {number}",
        "number": number,
        "places": 1,
        "station_id": None,
        "bodies": (),
        "controller_segments": None,
        "gas_fired": False,
        "working_c": None,
        "touch_c": 50.0,
        "prepare_min": 0,
        "clear_min": 0,
        "capacity_cm2": 0,
        "draws": (),
    }
    return Apparatus(**{**common, **facts})  # type: ignore[arg-type]


HOLE = apparatus(2, Kind.GLORY_HOLE, bodies=ALWAYS_QUICK, working_c=1100.0, gas_fired=True, draws=((2, 7.0),))


def small_world(
    *,
    staffed: tuple[Span, ...] = ((0, 2 * HORIZON),),
    taken: tuple[Taken, ...] = (),
    oxygen: tuple[Use, ...] = (),
    gas: tuple[Use, ...] = (),
    now: int = 0,
    engaged: tuple[Span, ...] = (),
    bodies: tuple[tuple[int, Body], ...] = ALWAYS_QUICK,
    stores: dict[int, Store] | None = None,
    pot: Store | None = None,
) -> World:
    """One studio: two glory holes on gas for one, one with a bench, two torches, an annealer, a furnace."""
    things = (
        apparatus(1, Kind.FURNACE, places=2, working_c=1150.0),
        replace(HOLE, bodies=bodies),
        apparatus(3, Kind.BENCH, station_id=2),
        apparatus(4, Kind.TORCH, prepare_min=5, clear_min=5, draws=((1, 6.0),)),
        apparatus(5, Kind.TORCH, prepare_min=5, clear_min=5, draws=((1, 3.0),)),
        apparatus(7, Kind.GLORY_HOLE, bodies=bodies, working_c=1100.0, draws=((2, 4.0),)),
        apparatus(6, Kind.ANNEALER, bodies=bodies, clear_min=10, capacity_cm2=100),
    )
    by_thing: dict[int, tuple[Taken, ...]] = {}
    for claim in sorted(taken, key=lambda claim: claim.span):
        by_thing[claim.apparatus_id] = (*by_thing.get(claim.apparatus_id, ()), claim)
    studio = StudioRecord(
        id=1,
        name="Studio",
        zone=ZoneInfo("UTC"),
        fahrenheit=False,
        notice_min=0,
        electric_unattended=True,
        hold_gap_min=60,
        policy=POLICY,
        staffed=dict.fromkeys(Duty, staffed),
    )
    return World(
        now=now,
        horizon=(0, 2 * HORIZON),
        studios={1: studio},
        apparatus={thing.id: thing for thing in things},
        taken=by_thing,
        supplies={
            1: SupplyRecord(id=1, name="oxygen", unit="L/min", limit=12, uses=oxygen),
            2: SupplyRecord(id=2, name="gas", unit="kW", limit=10, uses=gas),
        },
        people={7: tuple(Engagement(span=s, studio_id=2, studio="Other", what="a class") for s in engaged)},
        names={7: "Somebody"},
        travel={(1, 2): 20, (2, 1): 30},
        stores=stores or {},
        pots={} if pot is None else {1: PotRecord(store=pot, plan=QUICK_CHARGE)},
    )


def piece(glass: Glass = SOFT) -> Piece:
    """A small bead."""
    return Piece(glass=glass, shape=Shape.BEAD, thickness_mm=10)


def ask(glass: Glass = SOFT, **facts: object) -> Ask:
    """A class at the glory hole and a torch whose pieces go into the annealer."""
    common: dict[str, object] = {
        "title": "class",
        "studio_id": 1,
        "teach_min": 90,
        "person_id": 7,
        "glass_kg": 12.0,
        "stations": ((Kind.FURNACE, 1), (Kind.GLORY_HOLE, 1), (Kind.TORCH, 1)),
        "firings": (
            FiringAsk(kind=Kind.ANNEALER, recipe=Recipe.ANNEAL, piece=piece(glass), footprint_cm2=60),
        ),
    }
    return Ask(**{**common, **facts})  # type: ignore[arg-type]


def first_by_asking_every_minute(world: World, wanted: Ask, begin: int, until: int) -> int | None:
    """The first start that works, without any jump."""
    starts = (s for s in range(begin, until) if isinstance(place(world, wanted, s), Placement))
    return next(starts, None)


spans = st.tuples(st.integers(0, HORIZON), st.integers(10, 400)).map(lambda t: (t[0], t[0] + t[1]))


@st.composite
def separate_spans(draw: st.DrawFn, most: int) -> tuple[Span, ...]:
    """Spans that do not touch, in order."""
    return union(draw(st.lists(spans, max_size=most)))


def sessions_at_the_hole(
    cores: tuple[Span, ...], bodies: tuple[tuple[int, Body], ...]
) -> tuple[list[Taken], list[Use]]:
    """Sessions at the big glory hole as they would be booked: each lit as late as its heat allows."""
    taken, uses, worked_until = [], [], -COLD
    for number, core in enumerate(cores):
        lead = lead_min(replace(HOLE, bodies=bodies), min(core[0] - worked_until, COLD), core[0])
        span = (core[0] - lead, core[1])
        key = 100_000 + number
        taken.append(
            Taken(apparatus_id=2, place=1, span=span, core=core, held_by="earlier", occupancy_id=key)
        )
        uses.append(Use(span=span, amount=7.0, held_by="hole", occupancy_id=key))
        worked_until = core[1]
    return taken, uses


@st.composite
def stores(draw: st.DrawFn, uses: tuple[Use, ...], per_min: float) -> Store:
    """Cylinders or a tank, full or less so since some minutes, with too little for all at times."""
    full = draw(st.sampled_from([300.0, 700.0, 1500.0, 4000.0])) * per_min
    share = st.sampled_from([0.0, 0.3, 0.7, 1.0])
    refills = draw(
        st.lists(st.tuples(st.integers(-50, HORIZON), share), max_size=3, unique_by=lambda r: r[0])
    )
    return Store(
        name="store",
        unit="L",
        full=full,
        floor=draw(st.sampled_from([0.0, 0.1])) * full,
        per_min=per_min,
        refills=tuple(sorted((minute, part * full) for minute, part in refills)),
        uses=uses,
        change_over=draw(st.booleans()),
    )


@st.composite
def pots(draw: st.DrawFn, uses: tuple[Use, ...]) -> Store:
    """The glass in the pot, drawn by what gathers at the furnace."""
    drawn = draw(stores(uses, 0.01))
    return replace(drawn, per_min=1.0, full=40.0, floor=10.0, change_over=False)


@st.composite
def annealings(draw: st.DrawFn) -> list[Taken]:
    """Firings of one load each in the annealer, of soft or hard glass, on half or all of its shelf."""
    found = []
    for begin, end in draw(separate_spans(2)):
        glass, room = draw(st.sampled_from([SOFT, HARD])), draw(st.sampled_from([30, 60]))
        lot = Lot(piece=piece(glass), footprint_cm2=room, in_from=begin, in_until=end, held_by="other")
        record = FiringRecord(id=begin + 1, recipe=Recipe.ANNEAL, lots=(lot,), ready=begin, last_in=end)
        span = (begin - 20, end + 150)
        found.append(
            Taken(
                apparatus_id=6,
                place=1,
                span=span,
                core=span,
                held_by="other",
                firing=record,
                occupancy_id=begin + 1,
            )
        )
    return found


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """A world with claims on everything, gaps in its staffed hours, oxygen in use and a busy instructor."""
    taken = [
        Taken(apparatus_id=number, place=1, span=span, core=span, held_by="other", outage=draw(st.booleans()))
        for number in (1, 3, 4, 5, 7)
        for span in draw(separate_spans(2))
    ]
    # From some minute on another record is in force: a colder or warmer season, or a fit that was accepted.
    turned = st.tuples(st.integers(1, HORIZON), st.sampled_from([QUICK, SLOWER]))
    bodies = ((0, draw(st.sampled_from([QUICK, SLOWER]))), *draw(st.lists(turned, max_size=1)))
    sessions, gas = sessions_at_the_hole(draw(separate_spans(2)), bodies)
    taken.extend(sessions)
    taken.extend(draw(annealings()))
    uses = [
        Use(span=span, amount=draw(st.sampled_from([6.0, 8.0])), held_by="other")
        for span in draw(separate_spans(3))
    ]
    gas += [Use(span=span, amount=5.0, held_by="other") for span in draw(separate_spans(1))]
    staffed = union([*draw(separate_spans(3)), (HORIZON - 100, 2 * HORIZON)])
    contents = {}
    if draw(st.booleans()):
        contents[1] = draw(stores(tuple(uses), 1.0))
    if draw(st.integers(0, 3)) == 0:
        contents[2] = draw(stores(tuple(gas), 0.1))
    gathered = tuple(
        Use(span=(taken.span[1] - 1, taken.span[1]), amount=8.0, held_by="other")
        for taken in taken
        if taken.apparatus_id == 1 and not taken.outage
    )
    return small_world(
        stores=contents,
        pot=draw(st.none() | pots(gathered)),
        staffed=staffed,
        taken=tuple(taken),
        oxygen=tuple(uses),
        gas=tuple(gas),
        now=draw(st.integers(0, 300)),
        engaged=draw(separate_spans(2)),
        bodies=bodies,
    )


@settings(max_examples=60, deadline=None)
@given(worlds(), st.sampled_from([SOFT, HARD]), st.integers(0, 30), st.integers(0, 30))
def test_the_first_start_is_the_one_that_asking_every_minute_finds(
    world: World, glass: Glass, setup: int, cleanup: int
) -> None:
    wanted = ask(glass, setup_min=setup, cleanup_min=cleanup)

    found = first_start(world, wanted, 0, HORIZON)

    assert found == first_by_asking_every_minute(world, wanted, 0, HORIZON)


@settings(max_examples=100, deadline=None)
@given(worlds(), st.sampled_from([SOFT, HARD]))
def test_the_first_start_at_an_annealer_alone_is_exact_too(world: World, glass: Glass) -> None:
    wanted = ask(glass, stations=(), person_id=None)

    found = first_start(world, wanted, 0, HORIZON)

    assert found == first_by_asking_every_minute(world, wanted, 0, HORIZON)


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(0, HORIZON - 1))
def test_no_start_below_the_bound_of_a_refusal_works(world: World, start: int) -> None:
    answer = place(world, ask(), start)

    if isinstance(answer, Refusal):
        bound = answer.not_before if answer.not_before is not None else HORIZON
        assert bound > start
        assert first_by_asking_every_minute(world, ask(), start, min(bound, HORIZON)) is None


@settings(max_examples=100, deadline=None)
@given(worlds(), st.integers(0, HORIZON))
def test_what_is_placed_overlaps_nothing_and_never_exceeds_the_oxygen(world: World, start: int) -> None:
    answer = place(world, ask(), start)

    if isinstance(answer, Placement):
        for held in answer.held:
            assert held.span[0] >= world.now or not held.phases[0].from_c
            for taken in world.taken.get(held.apparatus_id, ()):
                core = taken.core if taken.place in (0, held.place) else (0, 0)
                assert not (core[0] < held.exclusive[1] and held.exclusive[0] < core[1])
        assert drawn(world, answer, 1) <= 12
        assert drawn(world, answer, 2) <= 10


def drawn(world: World, placement: Placement, supply: int) -> float:
    """The most that is drawn at once in any minute in which the placement draws, after it is booked."""
    changed, later = relit(world, placement.held, (placement.start, placement.end))
    standing = [use for use in world.supplies[supply].uses if use.occupancy_id not in changed]
    own = [use for held in placement.held for key, use in held.draws if key == supply]
    every = [*standing, *own, *(use for key, use in later if key == supply)]
    minutes = {minute for use in own for minute in range(*use.span)}
    return max(
        (sum(use.amount for use in every if use.span[0] <= minute < use.span[1]) for minute in minutes),
        default=0.0,
    )


def test_a_refusal_names_every_cause() -> None:
    world = small_world(
        staffed=((0, 400),),
        taken=tuple(
            Taken(apparatus_id=hole, place=1, span=(300, 420), core=(300, 420), held_by="another class")
            for hole in (2, 7)
        ),
        engaged=((310, 330),),
    )

    answer = place(world, ask(), 350)

    assert isinstance(answer, Refusal)
    assert {reason.code for reason in answer.reasons} == {
        "not-staffed",
        "person-busy",
        "equipment-taken",
        "no-annealer",
    }


@pytest.mark.parametrize(
    ("engaged", "first"),
    [((100, 200), 230), ((0, 70), 100)],
    ids=["30 minutes back from the other studio", "from the first minute"],
)
def test_the_way_between_studios_counts_before_and_after(engaged: Span, first: int) -> None:
    world = small_world(engaged=(engaged,))

    assert first_start(world, ask(stations=(), firings=()), 11, HORIZON) == first
