"""A loaded kiln waits until its program can run, and no longer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import pytest

from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.records import (
    Apparatus,
    Duty,
    FiringHeld,
    FiringRecord,
    Kind,
    Placement,
    Refusal,
    Store,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.search import place
from scheduling.engine.world import World
from studios.thermal import Phase
from tests.engine.reference.minutes import Stretch
from tests.engine.reference.small import END, an_hour, both_find, world_of
from tests.engine.reference.town import GAS, OVENS, POWER, thing

FIRED = an_hour(fires=(Kind.KILN,))
# A class from 100 to 160 is put into the kiln until 180.
START, CLOSED = 100, 180


def kiln(*draws: tuple[int, float], wait: int = 240, **facts: object) -> Apparatus:
    return thing(
        1,
        Kind.KILN,
        *(draws or ((POWER, 6.0),)),
        bodies=((0, OVENS[0]),),
        prepare_min=20,
        clear_min=15,
        capacity_cm2=100,
        longest_wait_min=wait,
        **facts,
    )


def busy(until: int, *, since: int = 0, amount: float = 5.0) -> SupplyRecord:
    """A feeder of 10 kW, on which another kiln draws."""
    use = Use(span=(since, until), amount=amount, held_by="Other kiln")
    return SupplyRecord(id=POWER, name="Feeder", unit="kW", limit=10.0, uses=(use,))


def world(
    *supplies: SupplyRecord,
    oven: Apparatus | None = None,
    taken: Iterable[Taken] = (),
    hours: Mapping[Duty, tuple[Stretch, ...]] | None = None,
) -> World:
    return world_of([oven or kiln()], supplies=supplies or [busy(300)], taken=taken, hours=hours)


def placed(world: World, start: int = START) -> Placement:
    answer = place(world, FIRED, start)
    assert isinstance(answer, Placement)
    return answer


def fired(world: World, start: int = START) -> FiringHeld:
    return placed(world, start).firings[0]


def test_a_loaded_kiln_waits_until_its_feeder_has_room() -> None:
    firing = fired(world())

    assert (firing.at_hold, firing.last_in) == (CLOSED, 300)
    assert [use.span for _, use in firing.held.draws] == [(300, firing.heat_off)]


def test_it_is_held_from_the_loading_on_and_stands_cold_until_its_program_starts() -> None:
    firing = fired(world())

    phases = firing.held.phases
    assert [(p.kind, p.span) for p in phases[:2]] == [
        (Phase.LOADING, (160, CLOSED)),
        (Phase.WAITING, (CLOSED, 300)),
    ]
    assert (phases[1].from_c, phases[1].to_c) == (OVENS[0].ambient_c, OVENS[0].ambient_c)
    assert phases[2].span[0] == 300
    assert firing.held.exclusive[0] == 160


def test_waiting_takes_no_energy() -> None:
    at_once, later = fired(world(busy(50))), fired(world())

    assert at_once.last_in == CLOSED
    assert later.energy_kwh == pytest.approx(at_once.energy_kwh)


def test_who_books_it_is_told_when_it_starts() -> None:
    assert placed(world()).notes == (
        "kiln 1 is loaded by Thu 1 Jan 03:00 and waits: its program starts by itself at Thu 1 Jan 05:00.",
    )
    assert placed(world(busy(50))).notes == ()


def test_it_waits_no_longer_than_it_may() -> None:
    patient, hasty = world(oven=kiln(wait=120)), world(oven=kiln(wait=119))

    assert fired(patient).last_in == 300
    answer = place(hasty, FIRED, START)
    assert isinstance(answer, Refusal)
    assert [reason.code for reason in answer.reasons] == ["supply-short"]
    assert answer.not_before == START + 1


def test_it_is_unloaded_before_the_next_use_however_long_it_might_wait() -> None:
    over = fired(world()).held.span[1]
    outage = (over - 1, over + 100)
    claim = Taken(apparatus_id=1, place=0, span=outage, core=outage, held_by="repair", outage=True)

    assert isinstance(place(world(taken=[claim]), FIRED, START), Refusal)


def test_gas_is_minded_from_the_start_of_the_program_on() -> None:
    gas_kiln = kiln((GAS, 4.0), gas_fired=True)
    gas = SupplyRecord(id=GAS, name="Gas", unit="kW", limit=10.0, uses=())
    minded = world(gas, oven=gas_kiln, hours={Duty.LIGHT: ((250, END),)})

    assert fired(minded).last_in == 250
    space, judged = both_find(minded, FIRED)
    assert space == judged


def test_a_content_is_judged_at_the_wait_that_the_rate_asks_for() -> None:
    gas_kiln = kiln((GAS, 4.0))
    use = Use(span=(0, 300), amount=8.0, held_by="Burner")
    gas = SupplyRecord(id=GAS, name="Gas", unit="kW", limit=10.0, uses=(use,))
    scarce = Store(name="Gas", unit="kWh", full=100.0, floor=0.0, per_min=1 / 60, refills=((0, 45.0),))
    plenty = replace(scarce, refills=((0, 100.0),))
    waits = world(gas, oven=gas_kiln)

    dry = place(replace(waits, stores={GAS: replace(scarce, uses=(use,))}), FIRED, START)
    full = place(replace(waits, stores={GAS: replace(plenty, uses=(use,))}), FIRED, START)

    assert isinstance(dry, Refusal)
    assert [reason.code for reason in dry.reasons] == ["store-empty"]
    assert isinstance(full, Placement)


def test_a_firing_that_stands_keeps_its_wait_when_it_is_run_again() -> None:
    firing, now = fired(world()), world()
    record = FiringRecord(
        id=1, recipe=firing.recipe, lots=firing.lots, ready=firing.at_hold, last_in=firing.last_in
    )

    again = run(now.studios[1], now.apparatus[1], firing.recipe, firing.lots, joins=record)

    assert not isinstance(again, Unrunnable)
    assert again.held.phases == firing.held.phases


def test_what_never_may_wait_is_refused_at_once() -> None:
    assert isinstance(place(world(oven=kiln(wait=0)), FIRED, START), Refusal)


@pytest.mark.parametrize("wait", [0, 1, 30, 119, 120, 240, 600])
@pytest.mark.parametrize("since", [0, 150, 250, 290])
def test_the_starts_of_a_kiln_that_waits_are_those_of_the_slow_judge(wait: int, since: int) -> None:
    later = (700, 760)
    claim = Taken(apparatus_id=1, place=0, span=later, core=later, held_by="repair", outage=True)
    hours = {Duty.LOAD: ((0, 400), (500, END)), Duty.UNLOAD: ((0, 640), (690, END))}
    waits = world(busy(300, since=since), oven=kiln(wait=wait), taken=[claim], hours=hours)

    space, judged = both_find(waits, FIRED)

    assert space == judged == {s for s in range(1000) if isinstance(place(waits, FIRED, s), Placement)}


def test_no_bound_of_a_refusal_passes_a_start_that_works() -> None:
    waits = world(busy(700, since=150), oven=kiln(wait=100))
    works = {s for s in range(1000) if isinstance(place(waits, FIRED, s), Placement)}

    for start in set(range(0, 1000, 7)) - works:
        answer = place(waits, FIRED, start)
        assert isinstance(answer, Refusal)
        bound = answer.not_before
        assert not works & set(range(start, 1000 if bound is None else bound))
    assert works


def test_a_kiln_that_draws_more_than_its_feeder_gives_never_starts() -> None:
    weak = SupplyRecord(id=POWER, name="Feeder", unit="kW", limit=5.0, uses=())

    for wait in (0, 60):
        space, judged = both_find(world(weak, oven=kiln(wait=wait)), FIRED)
        assert space == judged == set()
