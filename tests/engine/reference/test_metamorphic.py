"""What must not change the starts, and what must not add any: no judge is needed for these."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.engine.records import ELSEWHERE, Ask, Duty, Engagement, Kind, Taken
from scheduling.engine.search import place
from scheduling.engine.spans import subtract
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.changed import (
    asked_later,
    closed,
    drawn_alike,
    later,
    renumbered,
    reordered,
    shifted,
    with_claim,
)
from tests.engine.reference.minutes import Stretch
from tests.engine.reference.parts import HOT
from tests.engine.reference.random_worlds import LENGTH, cases
from tests.engine.reference.town import THINGS

Case = tuple[World, Ask, int, int]
NUMBERS = [each.id for each in THINGS]
WARM = [each.id for each in THINGS if each.kind in HOT]
NOT_WARM = [each.id for each in THINGS if each.kind not in HOT]
orders = st.permutations(NUMBERS).map(lambda order: dict(zip(NUMBERS, order, strict=True)))
hours_later = st.tuples(st.integers(0, LENGTH), st.integers(1, 300), st.integers(1, 300))
worlds_of_their_own = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


def minutes(spans: tuple[Stretch, ...]) -> set[int]:
    return {minute for span in spans for minute in range(*span)}


@worlds_of_their_own
@given(cases(), st.integers(-1_000_000, 1_000_000))
def test_a_world_moved_by_whole_minutes_moves_its_starts(case: Case, by: int) -> None:
    world, ask, begin, until = case

    moved = start_space(shifted(world, by), asked_later(ask, by), begin + by, until + by)

    assert moved == tuple(later(span, by) for span in start_space(world, ask, begin, until))


@worlds_of_their_own
@given(cases(), orders)
def test_the_numbers_of_the_equipment_and_its_order_never_change_the_starts(
    case: Case, new: dict[int, int]
) -> None:
    world, ask, begin, until = case

    found = start_space(*renumbered(world, ask, new), begin, until)

    assert found == start_space(world, ask, begin, until)


@worlds_of_their_own
@given(cases(), orders)
def test_ties_break_by_number_however_the_equipment_comes(case: Case, order: dict[int, int]) -> None:
    world, ask, begin, until = case
    other = reordered(world, order)

    for first, last in start_space(world, ask, begin, until)[:3]:
        for start in {first, (first + last) // 2, last - 1}:
            assert place(other, ask, start) == place(world, ask, start)


def nothing_shared_or_warm(case: Case) -> Case:
    """No firing that could be joined, and no session that leaves a glory hole or pipe warmer hot."""
    world, ask, begin, until = case
    gone = {t.occupancy_id for key, taken in world.taken.items() for t in taken if key in WARM or t.firing}
    taken = {
        key: tuple(t for t in claims if t.outage or t.occupancy_id not in gone)
        for key, claims in world.taken.items()
    }
    supplies = {
        key: replace(supply, uses=tuple(use for use in supply.uses if use.occupancy_id not in gone - {None}))
        for key, supply in world.supplies.items()
    }
    return drawn_alike(replace(world, taken=taken, supplies=supplies)), ask, begin, until


@worlds_of_their_own
@given(cases(), st.sampled_from(NOT_WARM), hours_later, st.booleans())
def test_a_booking_more_never_adds_a_start_and_one_less_never_takes_one(
    case: Case, number: int, hours: tuple[int, int, int], outage: bool
) -> None:
    world, ask, begin, until = nothing_shared_or_warm(case)
    span = (begin + hours[0], begin + hours[0] + hours[1])
    claim = Taken(
        apparatus_id=number,
        place=0 if outage else 1,
        span=span,
        core=span,
        held_by="one more",
        outage=outage,
        occupancy_id=None if outage else 1,
    )

    fuller = start_space(with_claim(world, claim), ask, begin, until)

    assert minutes(fuller) <= minutes(start_space(world, ask, begin, until))


@worlds_of_their_own
@given(cases(), hours_later, st.sampled_from([1, 2, ELSEWHERE]))
def test_somebody_engaged_once_more_has_no_start_more(
    case: Case, hours: tuple[int, int, int], studio: int
) -> None:
    world, ask, begin, until = case
    span = (begin + hours[0], begin + hours[0] + hours[1])
    another = Engagement(span=span, studio_id=studio, studio="Studio", what="one more class")

    busier = replace(world, people={**world.people, 7: (*world.people[7], another)})

    assert minutes(start_space(busier, ask, begin, until)) <= minutes(start_space(world, ask, begin, until))


@worlds_of_their_own
@given(cases(), hours_later)
def test_a_closure_in_two_parts_is_the_same_closure(case: Case, hours: tuple[int, int, int]) -> None:
    world, ask, begin, until = case
    opens, turn = begin + hours[0], begin + hours[0] + hours[1]
    closes = turn + hours[2]
    present = {key: studio.staffed[Duty.PRESENT] for key, studio in world.studios.items()}

    whole = closed(world, {key: subtract(spans, [(opens, closes)]) for key, spans in present.items()})
    parts = closed(
        world, {key: subtract(spans, [(turn, closes), (opens, turn)]) for key, spans in present.items()}
    )

    assert start_space(whole, ask, begin, until) == start_space(parts, ask, begin, until)


@worlds_of_their_own
@given(cases(), st.sampled_from(NUMBERS), hours_later)
def test_an_outage_in_two_parts_is_the_same_outage(
    case: Case, number: int, hours: tuple[int, int, int]
) -> None:
    world, ask, begin, until = case
    opens, turn = begin + hours[0], begin + hours[0] + hours[1]

    whole = _out(world, number, [(opens, turn + hours[2])])
    parts = _out(world, number, [(opens, turn), (turn, turn + hours[2])])

    assert start_space(whole, ask, begin, until) == start_space(parts, ask, begin, until)


def _out(world: World, number: int, spans: list[Stretch]) -> World:
    for span in spans:
        claim = Taken(apparatus_id=number, place=0, span=span, core=span, held_by="repair", outage=True)
        world = with_claim(world, claim)
    return world


def test_the_two_studios_have_what_the_properties_speak_of() -> None:
    kinds = {each.kind for each in THINGS}

    assert kinds == set(Kind)
    assert len(THINGS) > 12
