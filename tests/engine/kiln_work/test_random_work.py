"""Whatever is asked in whatever world: a plan is sound, and is placed by the engine minute for minute."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import Aim, HandDone, PieceAsked, WorkAsked
from scheduling.engine.kiln_work.routes import ROUTES, Handwork, Route
from scheduling.engine.records import Apparatus, Duty, Kind, Use
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
    power,
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
    """Up to three at two studios; some change their record after a few days, some may wait or burn more."""
    found = []
    for number in range(1, draw(st.integers(1, 3)) + 1):
        studio_id = draw(st.sampled_from([1, 1, 2]))
        bodies = [(0, draw(st.sampled_from([FIBRE, BRICK, QUICK])))]
        if draw(st.booleans()):
            bodies.append((draw(st.integers(1, 5)) * DAY, draw(st.sampled_from([FIBRE, BRICK]))))
        found.append(
            kiln(
                number,
                bodies=tuple(bodies),
                studio_id=studio_id,
                prepare_min=draw(st.sampled_from([0, 20, 45])),
                clear_min=draw(st.sampled_from([0, 15, 30])),
                capacity_cm2=draw(st.sampled_from([500, 6000])),
                longest_wait_min=draw(st.sampled_from([0, 240])),
                draws=((power(studio_id), draw(st.sampled_from([3.0, 5.0, 7.0]))),),
                breakers=frozenset({power(studio_id)}) if draw(st.booleans()) else frozenset(),
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
    things = [*draw(kilns()), cold_station(), *draw(st.sampled_from([[], [cold_station(8, studio_id=2)]]))]
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
    """Some sink into moulds, which are at the first studio, and of which others may have some."""
    held = st.lists(st.tuples(spans, st.integers(1, 2)), max_size=2).map(tuple)
    moulds = {
        side: mould(
            side, side + 20, count=draw(st.integers(1, 3)), holds=draw(st.integers(1, 2)), held=draw(held)
        )
        for side in (100, 180, 240)
    }
    found = []
    for side in draw(st.lists(st.sampled_from([100, 180, 240]), min_size=1, max_size=9)):
        shape = draw(st.sampled_from([square, disc]))
        moulded = draw(st.booleans())
        found.append(
            replace(shape(side, moulds[side] if moulded else None), studio_id=1 if moulded else None)
        )
    return found


@st.composite
def begun(draw: st.DrawFn, piece: PieceAsked, route: Route) -> PieceAsked:
    """The piece as it is, or on its way: out of one of its firings at some hour, or to be worked cold."""
    first = draw(st.sampled_from([0, 0, 0, *range(1, len(route.firings) + 1)]))
    if not first:
        return piece
    return replace(
        piece,
        first=first,
        free=draw(st.integers(0, 4 * DAY)),
        studio_id=1,
        unworked=route.firings[first - 1].cold_work and draw(st.booleans()),
    )


@st.composite
def asked_of(draw: st.DrawFn, place: World) -> WorkAsked:
    numbers = [each.id for each in place.apparatus.values() if each.kind is Kind.KILN]
    route = draw(st.sampled_from(list(ROUTES.values())))
    done = draw(
        st.lists(st.sampled_from([(Handwork.WASH_SHELVES, 1), (Handwork.PREPARE_MOULDS, None)]), max_size=2)
    )
    return work(
        *(draw(begun(piece, route)) for piece in draw(pieces())),
        done=tuple(
            HandDone(does=does, studio_id=1, kiln_id=kiln_id, dry=DAY, until=6 * DAY)
            for does, kiln_id in done
        ),
        kilns=[
            shelves(
                number, *draw(st.sampled_from(SHELVES)), kwh_price=0.3, hour_price=2.0, shelf_wash_price=3.0
            )
            for number in numbers
        ],
        route=route,
        aim=draw(st.sampled_from(list(Aim))),
        cold_min_each=draw(st.sampled_from([0, 0, 20])),
        arrives=draw(st.integers(0, 2 * DAY)),
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
        assert found.code in {"never", "no-cold-station", "no-kiln", "nothing-left", "piece-too-large"}


def test_what_is_planned_is_booked_nowhere() -> None:
    shop = world(kiln(1, draws=((POWER, 5.0),)))

    answer(shop, work(square(100), kilns=[shelves(1, 300, 300)]))

    assert not shop.claims(1)
    assert not shop.supplies[POWER].steps
    assert shop.horizon[1] == 42 * 24 * HOUR
