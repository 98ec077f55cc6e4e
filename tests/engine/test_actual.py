"""A firing as it really goes, held against Newton's law worked out elsewhere."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from math import exp, log
from zoneinfo import ZoneInfo

import pytest

from scheduling.engine.actual import Happened, Planned, Ran, What, ran
from scheduling.engine.clock import floor_minutes
from scheduling.engine.curves import temperature_at
from scheduling.engine.kilns import program
from scheduling.engine.records import Apparatus, Duty, Kind, Lot, StudioRecord
from studios.thermal import Body, Glass, Phase, Piece, Policy, Recipe, Shape

ZONE = ZoneInfo("America/Chicago")
HOUR, DAY = 60, 24 * 60
MONDAY = floor_minutes(dt.datetime(2031, 3, 3, tzinfo=ZONE))
FEEDER = 9

# Cooling of equipment by Newton's law at an ambient of 22 °C, in hours, by (from, to, tau): worked out
# with numpy by somebody who did not write the model, as tau * ln((from - 22) / (to - 22)).
NEWTON_H = {
    (370, 40, 4): 11.85,
    (370, 40, 6): 17.77,
    (370, 93, 4): 6.36,
    (480, 50, 4): 11.18,
    (480, 50, 6): 16.77,
}

GLASS = Glass(
    name="studio-96",
    expansion_per_k=96e-7,
    annealing_c=510,
    strain_c=475,
    softening_c=690,
    youngs_pa=70e9,
    poisson=0.22,
    conductivity_w_per_m_k=1.4,
    density_kg_per_m3=2500,
    heat_capacity_j_per_kg_k=1170,
)
VESSEL = Piece(glass=GLASS, shape=Shape.VESSEL, thickness_mm=8.0)
TILE = Piece(glass=GLASS, shape=Shape.PLATE_ON_SHELF, thickness_mm=6.0)
STUDIO = StudioRecord(
    id=1,
    name="Shop",
    zone=ZONE,
    fahrenheit=False,
    notice_min=0,
    electric_unattended=True,
    hold_gap_min=0,
    policy=Policy(),
    staffed={
        duty: tuple((MONDAY + n * DAY + 8 * HOUR, MONDAY + n * DAY + 23 * HOUR) for n in range(14))
        for duty in Duty
    },
)


def oven(kind: Kind = Kind.ANNEALER, tau_h: float = 4.0, door_c: float | None = None) -> Apparatus:
    body = Body(tau_h=tau_h, ceiling_c=1100.0, power_kw=6.0, ambient_c=22.0, door_c=door_c)
    return Apparatus(
        id=1,
        studio_id=1,
        active=True,
        kind=kind,
        name="Oven",
        number=1,
        places=1,
        station_id=None,
        bodies=((0, body),),
        gas_fired=False,
        working_c=None,
        touch_c=60.0,
        prepare_min=45 if kind is Kind.KILN else 0,
        clear_min=30,
        capacity_cm2=4000,
        controller_segments=None,
        draws=((FEEDER, 6.0),),
    )


def at(day: int, hour: int, minute: int = 0) -> int:
    return MONDAY + day * DAY + hour * HOUR + minute


def annealing(piece: Piece = VESSEL, tau_h: float = 4.0, door_c: float | None = None) -> Planned:
    """A class of three hours from 18:00 on Tuesday."""
    apparatus = oven(tau_h=tau_h, door_c=door_c)
    lot = Lot(piece=piece, footprint_cm2=100, in_from=at(1, 18), in_until=at(1, 21), held_by="blowing")
    return planned(apparatus, Recipe.ANNEAL, lot, at(1, 18), at(1, 21))


def fusing(wait: int = 0) -> Planned:
    """Tiles in a kiln whose door is closed at 20:00 on Tuesday."""
    lot = Lot(piece=TILE, footprint_cm2=100, in_from=at(1, 20), in_until=at(1, 20), held_by="tiles")
    return planned(oven(Kind.KILN, tau_h=2.8), Recipe.FULL_FUSE, lot, at(1, 20), at(1, 20) + wait)


def planned(apparatus: Apparatus, recipe: Recipe, lot: Lot, ready: int, last_in: int) -> Planned:
    plan = program(recipe, (lot.piece,), apparatus.bodies[0][1], STUDIO.policy)
    return Planned(studio=STUDIO, apparatus=apparatus, plan=plan, lots=(lot,), ready=ready, last_in=last_in)


def happened(what: What, minute: int, read_c: float | None = None) -> Happened:
    return Happened(what=what, at=minute, read_c=read_c)


def celsius(firing: Ran, minute: int) -> float | None:
    return temperature_at(firing.held.phases, minute)


def filled(firing: Ran) -> bool:
    """Phase after phase without a gap from the first minute held to the last."""
    edges = [edge for phase in firing.held.phases for edge in phase.span]
    joined = edges[1:-1:2] == edges[2::2]
    return joined and (edges[0], edges[-1]) == firing.held.span


def test_with_nothing_recorded_it_goes_as_planned() -> None:
    plan = annealing()

    firing = ran(plan, [])

    assert (firing.ready, firing.last_in) == (plan.ready, plan.last_in)
    assert firing.cool == plan.last_in + plan.plan.tail_min
    assert firing.held.span[0] == plan.ready - plan.plan.heat_up_min
    assert firing.broken is None
    assert filled(firing)


@pytest.mark.parametrize("what", [What.LAST_IN, What.SOAK_STARTED])
@pytest.mark.parametrize("late_min", [-50, 40])
def test_the_whole_program_moves_with_the_last_piece(what: What, late_min: int) -> None:
    plan = annealing()
    before = ran(plan, [])

    moved = ran(plan, [happened(what, plan.last_in + late_min)])

    assert moved.last_in - before.last_in == late_min
    assert moved.cool - before.cool == late_min
    assert moved.below_strain - before.below_strain == late_min
    assert moved.held.draws[0][1].span[1] - before.held.draws[0][1].span[1] == late_min
    assert filled(moved)


@pytest.mark.parametrize(("from_c", "to_c", "tau_h"), list(NEWTON_H))
def test_power_lost_below_the_strain_point_leaves_it_to_newton(from_c: int, to_c: int, tau_h: int) -> None:
    plan = annealing(tau_h=tau_h, door_c=float(to_c))
    lost = ran(plan, []).cool - HOUR
    safe = replace(plan, plan=replace(plan.plan, strain_c=481.0))

    firing = ran(safe, [happened(What.POWER_LOST, lost, from_c)])

    assert (firing.cool - lost) / HOUR == pytest.approx(NEWTON_H[from_c, to_c, tau_h], abs=0.02)
    assert firing.broken is None
    assert filled(firing)


def test_power_lost_at_three_in_the_morning_while_it_soaks_breaks_it_off() -> None:
    plan = annealing(piece=replace(VESSEL, thickness_mm=60.0))
    three = at(2, 3)

    firing = ran(plan, [happened(What.POWER_LOST, three)])

    assert firing.broken == three
    # From the hold at 510 °C: 22 + 488 * exp(-2 / 4) two hours later.
    assert celsius(firing, three + 2 * HOUR) == pytest.approx(22 + 488 * exp(-0.5), abs=0.1)
    assert firing.cool - three == pytest.approx(4 * HOUR * log(488 / 28), abs=1)
    assert all(use.span[1] <= three for _, use in firing.held.draws)
    assert filled(firing)


def test_broken_off_between_annealing_and_strain_point_although_the_soak_was_done() -> None:
    plan = annealing()
    soak = next(phase for phase in ran(plan, []).held.phases if phase.kind is Phase.SOAK)
    moment = soak.span[1] + 5

    firing = ran(plan, [happened(What.STOPPED_EARLY, moment)])

    assert firing.broken == moment


def test_a_reading_that_comes_later_tells_that_it_was_still_too_hot() -> None:
    plan = annealing()
    below = ran(plan, []).below_strain + 10

    told = ran(plan, [happened(What.POWER_LOST, below)])
    read = ran(plan, [happened(What.POWER_LOST, below), happened(What.TEMPERATURE, below + 5, 490)])

    assert told.broken is None
    assert read.broken == below


def test_soaked_again_it_runs_through_and_is_no_longer_broken() -> None:
    plan = annealing()
    lost = happened(What.POWER_LOST, at(1, 21, 30))
    again = at(2, 4)

    firing = ran(plan, [lost, happened(What.SOAK_STARTED, again)])

    assert firing.broken is None
    assert firing.last_in == plan.last_in
    assert firing.cool == again + plan.plan.tail_min
    assert filled(firing)


def test_lit_again_it_is_brought_back_gently_soaked_whole_and_cooled() -> None:
    plan = annealing()
    lost, power_back = happened(What.POWER_LOST, at(1, 21, 30)), at(1, 23, 30)

    firing = ran(plan, [lost, happened(What.LIT, power_back)])

    assert firing.broken is None
    soaks = [phase for phase in firing.held.phases if phase.kind is Phase.SOAK]
    rising = [phase for phase in firing.held.phases if phase.kind is Phase.HEAT_UP][1:]
    assert rising[0].span[0] == power_back
    assert rising[0].from_c == pytest.approx(22 + 488 * exp(-0.5), abs=0.1)
    assert soaks[-1].span[1] - soaks[-1].span[0] == plan.plan.segments[1].hold_min
    assert firing.cool == pytest.approx(rising[-1].span[1] + plan.plan.tail_min, abs=1)
    off = [use.span for _, use in firing.held.draws]
    assert off[0][1] == at(1, 21, 30)
    assert off[1][0] == power_back
    assert filled(firing)


def test_a_kiln_still_at_120_when_it_should_be_cold_cools_on_from_there() -> None:
    plan = annealing()
    cold = ran(plan, []).cool

    firing = ran(plan, [happened(What.TEMPERATURE, cold + 30, 120.0)])

    # 4 h * ln((120 - 22) / (50 - 22)) = 5.01 h
    assert firing.cool - (cold + 30) == pytest.approx(4 * HOUR * log(98 / 28), abs=1)
    assert firing.unload >= firing.cool
    assert filled(firing)


def test_read_while_it_cools_the_program_still_holds_it_back() -> None:
    plan = annealing(tau_h=1.0)
    slow = ran(plan, [])
    moment = slow.below_strain - 20

    read = ran(plan, [happened(What.TEMPERATURE, moment, 500.0)])

    annealing_leg = plan.plan.after[1].segment
    assert annealing_leg.rate_c_per_h is not None
    down = (500.0 - GLASS.strain_c) / annealing_leg.rate_c_per_h * HOUR
    assert read.below_strain - moment == pytest.approx(down, abs=1.01)


def test_of_two_readings_the_later_counts_whatever_their_order() -> None:
    plan = annealing()
    cold = ran(plan, []).cool
    first, second = (happened(What.TEMPERATURE, cold - 60 * n, c) for n, c in ((4, 250.0), (2, 120.0)))

    both = ran(plan, [second, first])

    assert both.cool == ran(plan, [second]).cool
    assert celsius(both, first.at) == pytest.approx(250.0)


def test_read_cool_it_is_cool_then() -> None:
    plan = annealing()
    early = ran(plan, []).cool - 3 * HOUR

    firing = ran(plan, [happened(What.TEMPERATURE, early, 35.0)])

    assert firing.cool == early
    assert filled(firing)


def test_read_far_off_while_it_soaks_asks_whether_the_heat_is_on() -> None:
    plan = annealing()

    firing = ran(plan, [happened(What.TEMPERATURE, plan.last_in + 10, 430.0)])

    assert firing.cool == ran(plan, []).cool
    assert "look whether the heat is on" in firing.cautions[0]


def test_thick_glass_that_falls_too_fast_below_the_strain_point_is_looked_at() -> None:
    plan = annealing(piece=replace(VESSEL, thickness_mm=60.0), tau_h=1.0)
    below = ran(plan, []).below_strain + 1

    firing = ran(plan, [happened(What.POWER_LOST, below)])
    thin = ran(annealing(), [happened(What.POWER_LOST, ran(annealing(), []).below_strain + 1)])

    assert firing.broken is None
    # M R d2 / 3k with M = 70e9 * 96e-7 / 0.78, k = 1.4 / (2500 * 1170), R = (475 - 22) K in the first hour.
    rate = ((celsius(firing, below) or 0.0) - 22) / 3600
    tension = 70e9 * 96e-7 / 0.78 * rate * 0.06**2 / (3 * 1.4 / (2500 * 1170)) / 1e6
    assert f"strains it by {tension:.1f} MPa" in firing.cautions[0]
    assert thin.cautions == ()


def test_lit_late_the_pieces_wait_until_it_is_hot() -> None:
    plan = annealing()

    firing = ran(plan, [happened(What.LIT, at(1, 20, 45))])

    assert firing.held.span[0] == at(1, 20, 45)
    assert firing.ready == firing.last_in == at(1, 20, 45) + plan.plan.heat_up_min
    assert filled(firing)


def test_lost_before_the_first_piece_nothing_is_broken_and_it_is_lit_again() -> None:
    plan = annealing()
    lost = happened(What.POWER_LOST, plan.begin + 20)

    off = ran(plan, [lost])
    again = ran(plan, [lost, happened(What.LIT, plan.begin + 50)])

    assert off.broken is None
    assert "light it again" in off.cautions[0]
    assert again.ready > plan.ready
    assert again.cool == ran(plan, []).cool
    assert filled(off)
    assert filled(again)


@pytest.mark.parametrize("plan", [annealing(), fusing()], ids=["annealer", "kiln"])
@pytest.mark.parametrize("early", [1, 90])
def test_what_is_not_lit_yet_goes_not_off(plan: Planned, early: int) -> None:
    off = ran(plan, [happened(What.POWER_LOST, plan.begin - early)])

    assert (off.held.span, off.cool, off.broken) == (ran(plan, []).held.span, ran(plan, []).cool, None)
    assert "light it again, and record it" in off.cautions[0]
    assert filled(off)


@pytest.mark.parametrize("plan", [annealing(), fusing()], ids=["annealer", "kiln"])
def test_off_in_the_minute_in_which_it_was_to_begin(plan: Planned) -> None:
    off = ran(plan, [happened(What.STOPPED_EARLY, plan.begin)])

    assert off.held.span[0] == plan.begin
    assert off.held.draws == ()
    assert off.last_in < off.cool <= off.unload
    assert filled(off)


def test_a_kiln_that_waited_begins_its_program_when_it_was_lit() -> None:
    plan = fusing(wait=60)

    firing = ran(plan, [happened(What.LIT, at(1, 22))])

    assert (firing.ready, firing.last_in) == (at(1, 20), at(1, 22))
    assert firing.cool == at(1, 22) + plan.plan.tail_min
    assert filled(firing)


def test_tiles_that_lost_power_before_they_fused_are_fired_through_again() -> None:
    plan = fusing()
    lost = happened(What.POWER_LOST, at(1, 22))

    broken = ran(plan, [lost])
    again = ran(plan, [lost, happened(What.LIT, at(2, 9))])

    assert broken.broken == at(1, 22)
    assert again.broken is None
    assert max(phase.to_c or 0 for phase in again.held.phases if phase.span[0] >= at(2, 9)) == 800
    assert filled(again)


def test_opened_cool_it_is_unloaded_at_once_and_free() -> None:
    plan = annealing()
    early = ran(plan, []).cool - 3 * HOUR
    cool = happened(What.TEMPERATURE, early, 45.0)

    opened = ran(plan, [cool, happened(What.OPENED, early + 5)])
    out = ran(plan, [cool, happened(What.OPENED, early + 5), happened(What.UNLOADED, early + 15)])

    assert (opened.unload, opened.held.span[1]) == (early + 5, early + 35)
    assert opened.cautions == ()
    assert out.held.span[1] == early + 15
    assert filled(opened)
    assert filled(out)


def test_opened_too_hot_it_is_said_and_the_equipment_is_not_yet_free() -> None:
    plan = annealing()
    early = ran(plan, []).cool - HOUR

    firing = ran(plan, [happened(What.OPENED, early, 140.0)])

    assert "the door stays closed above 50 °C" in firing.cautions[0]
    assert firing.opened == early
    assert firing.held.span[1] > early + HOUR
    assert firing.broken is None


def test_opened_above_the_strain_point_it_must_be_annealed_again() -> None:
    plan = annealing()
    moment = ran(plan, []).below_strain - 5

    assert ran(plan, [happened(What.OPENED, moment)]).broken == moment


def test_the_night_of_a_clock_change_does_not_lengthen_the_cooling() -> None:
    plan = annealing()
    sunday = floor_minutes(dt.datetime(2031, 3, 9, 0, 30, tzinfo=ZONE))
    shift = sunday - plan.last_in
    late = replace(
        plan,
        ready=plan.ready + shift,
        last_in=plan.last_in + shift,
        lots=tuple(
            replace(lot, in_from=lot.in_from + shift, in_until=lot.in_until + shift) for lot in plan.lots
        ),
    )
    moment = ran(late, []).below_strain + 10

    firing = ran(late, [happened(What.POWER_LOST, moment, 400.0)])

    assert firing.cool - moment == pytest.approx(4 * HOUR * log(378 / 28), abs=1)
