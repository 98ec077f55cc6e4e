"""Whatever is asked in whatever world: a plan is sound, and is placed by the engine minute for minute."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import Aim, PieceAsked, WorkAsked
from scheduling.engine.kiln_work.routes import ROUTES
from scheduling.engine.records import Apparatus, Duty, Use
from scheduling.engine.spans import Span, union
from scheduling.engine.world import World
from tests.engine.kiln_work.sound import assert_sound
from tests.engine.kiln_work.workshop import (
    BRICK,
    DAY,
    FIBRE,
    HOUR,
    POWER,
    QUICK,
    cold_station,
    daily,
    disc,
    kiln,
    mould,
    shelves,
    square,
    taken,
    work,
    world,
)

DAYS = 16
SHELVES = ((300, 300, 1), (300, 300, 2), (420, 300, 1), (600, 420, 2))


@st.composite
def kilns(draw: st.DrawFn) -> list[Apparatus]:
    """Up to three; some change their record after a few days, some may wait, some burn more than others."""
    found = []
    for number in range(1, draw(st.integers(1, 3)) + 1):
        bodies = [(0, draw(st.sampled_from([FIBRE, BRICK, QUICK])))]
        if draw(st.booleans()):
            bodies.append((draw(st.integers(1, 5)) * DAY, draw(st.sampled_from([FIBRE, BRICK]))))
        found.append(
            kiln(
                number,
                bodies=tuple(bodies),
                prepare_min=draw(st.sampled_from([0, 20, 45])),
                clear_min=draw(st.sampled_from([0, 15, 30])),
                capacity_cm2=draw(st.sampled_from([500, 6000])),
                longest_wait_min=draw(st.sampled_from([0, 240])),
                draws=((POWER, draw(st.sampled_from([3.0, 5.0, 7.0]))),),
                breakers=frozenset({POWER}) if draw(st.booleans()) else frozenset(),
            )
        )
    return found


spans = st.tuples(st.integers(0, 8 * DAY), st.integers(30, 2 * DAY)).map(lambda t: (t[0], t[0] + t[1]))


@st.composite
def hours(draw: st.DrawFn) -> tuple[Span, ...]:
    opens = draw(st.integers(6, 12))
    by_day = daily(opens, opens + draw(st.integers(4, 11)), DAYS)
    closed = draw(st.sets(st.integers(0, DAYS - 1), max_size=4))
    return tuple(span for day, span in enumerate(by_day) if day not in closed)


@st.composite
def worlds(draw: st.DrawFn) -> World:
    things = [*draw(kilns()), cold_station()]
    claims = [taken(thing.id, *span) for thing in things for span in union(draw(st.lists(spans, max_size=2)))]
    uses = [Use(span=span, amount=3.0, held_by="hot shop") for span in draw(st.lists(spans, max_size=1))]
    return world(
        *things,
        days=DAYS,
        taken=claims,
        feeder=draw(st.sampled_from([8.0, 11.0, 30.0])),
        uses=uses,
        hours={duty: draw(hours()) for duty in (Duty.LOAD, Duty.UNLOAD)},
        now=draw(st.integers(0, DAY)),
    )


@st.composite
def pieces(draw: st.DrawFn) -> list[PieceAsked]:
    moulds = {
        side: mould(side, side + 20, count=draw(st.integers(1, 3)), holds=draw(st.integers(1, 2)))
        for side in (100, 180, 240)
    }
    found = []
    for side in draw(st.lists(st.sampled_from([100, 180, 240]), min_size=1, max_size=9)):
        shape = draw(st.sampled_from([square, disc]))
        found.append(shape(side, moulds[side] if draw(st.booleans()) else None))
    return found


@st.composite
def asked_of(draw: st.DrawFn, place: World) -> WorkAsked:
    numbers = [each.id for each in place.apparatus.values() if each.id != cold_station().id]
    return work(
        *draw(pieces()),
        kilns=[
            shelves(number, *draw(st.sampled_from(SHELVES)), hour_price=2.0, shelf_wash_price=3.0)
            for number in numbers
        ],
        route=draw(st.sampled_from(list(ROUTES.values()))),
        aim=draw(st.sampled_from(list(Aim))),
        cold_min_each=draw(st.sampled_from([0, 0, 20])),
        arrives=draw(st.integers(0, 2 * DAY)),
        prices_per_kwh={1: 0.3},
    )


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_every_plan_is_sound(data: st.DataObject) -> None:
    shop = data.draw(worlds())
    asked = data.draw(asked_of(shop))

    found = answer(shop, asked)

    if isinstance(found, WorkPlanned):
        assert_sound(shop, asked, found)
    else:
        assert isinstance(found, WorkRefused)
        assert found.code in {"never", "piece-too-large"}


def test_what_is_planned_is_booked_nowhere() -> None:
    shop = world(kiln(1, draws=((POWER, 5.0),)))

    answer(shop, work(square(100), kilns=[shelves(1, 300, 300)]))

    assert not shop.claims(1)
    assert not shop.supplies[POWER].steps
    assert shop.horizon[1] == 42 * 24 * HOUR
