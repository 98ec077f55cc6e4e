"""What is taken and drawn, changed in place, is what would be built afresh."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.engine.booked import Claims, Draws
from scheduling.engine.records import Store, Taken, Use
from scheduling.engine.spans import Span, levels, union

LAST = 400


@st.composite
def spans(draw: st.DrawFn, longest: int = 60) -> Span:
    begin = draw(st.integers(0, LAST))
    return begin, begin + draw(st.integers(1, longest))


def claim(key: int, span: Span, place: int, lead: int) -> Taken:
    """A use with its heat-up before it; at place 0 an outage."""
    return Taken(
        apparatus_id=1,
        place=place,
        span=span,
        core=(min(span[0] + lead, span[1] - 1), span[1]),
        held_by="a class",
        outage=place == 0,
        occupancy_id=None if place == 0 else key,
    )


@st.composite
def changes(draw: st.DrawFn) -> list[tuple[Taken, bool]]:
    """Claims that come one after another, and for each whether it goes again at the end."""
    wanted = draw(st.lists(st.tuples(spans(), st.integers(0, 2), st.integers(0, 30), st.booleans())))
    return [(claim(key, span, place, lead), goes) for key, (span, place, lead, goes) in enumerate(wanted)]


def forbidden(taken: list[Taken], place: int, begin: int, end: int) -> tuple[Span, ...]:
    """Every start whose window meets something taken, tried one by one."""
    tried = range(-200, LAST + 200)
    mine = [t.span for t in taken if t.place in {0, place}]
    starts = (s for s in tried if any(a < s + end and s + begin < b for a, b in mine))
    return union((s, s + 1) for s in starts)


@settings(max_examples=80, deadline=None)
@given(changes(), st.integers(-30, 0), st.integers(1, 60), st.integers(1, 2))
def test_claims_that_come_and_go(came: list[tuple[Taken, bool]], begin: int, end: int, place: int) -> None:
    kept = Claims()
    kept.forbidden(place, begin, end)

    for each, _ in came:
        kept.add(each)
    for each, goes in came:
        if goes:
            kept.remove(each)

    left = [each for each, goes in came if not goes]
    begins, ends = kept.forbidden(place, begin, end)
    assert tuple(zip(begins, ends, strict=True)) == forbidden(left, place, begin, end)
    assert sorted(kept, key=repr) == sorted(left, key=repr)
    assert [t.span for t in kept] == sorted(t.span for t in left)


@settings(max_examples=80, deadline=None)
@given(changes(), spans(), st.integers(1, 2))
def test_what_is_near_is_what_a_look_at_all_of_it_finds(
    came: list[tuple[Taken, bool]], near: Span, place: int
) -> None:
    taken = [each for each, _ in came]
    kept, mine = Claims(taken), [t for t in taken if t.place in {0, place}]
    minute = near[0]

    assert sorted(kept.meeting(*near, place), key=repr) == sorted(
        (t for t in mine if t.span[0] < near[1] and near[0] < t.span[1]), key=repr
    )
    before = kept.before(minute, place)
    ended = [(t.core[1], t.outage) for t in mine if t.core[1] <= minute]
    assert (None if before is None else (before.core[1], before.outage)) == max(ended, default=None)
    after = kept.after(minute, place)
    begun = [t.core[0] for t in mine if t.core[0] >= minute]
    assert (None if after is None else after.core[0]) == min(begun, default=None)
    warm = [t.core[1] for t in mine if t.core[1] > minute and not t.outage]
    assert kept.warm_after(minute, place) == min(warm, default=None)
    assert [t.span for t in kept.ending_after(minute, place)] == sorted(
        t.span for t in mine if t.span[1] > minute
    )


Drawn = list[tuple[Use, bool]]


@st.composite
def drawn(draw: st.DrawFn) -> Drawn:
    amounts = st.sampled_from([0.5, 1.0, 6.0, 25.0])
    wanted = draw(st.lists(st.tuples(spans(3000), amounts, st.integers(0, 4), st.booleans()), max_size=12))
    return [
        (Use(span=span, amount=amount, held_by="a torch", occupancy_id=key), goes)
        for span, amount, key, goes in wanted
    ]


def by_minute(steps: object) -> dict[int, float]:
    return {
        minute: round(amount, 6)
        for (begin, end), amount in steps  # type: ignore[attr-defined]  # steps of a supply
        for minute in range(begin, end)
    }


@settings(max_examples=80, deadline=None)
@given(drawn(), spans(5000))
def test_draws_that_come_and_go(came: Drawn, within: Span) -> None:
    kept = Draws()
    store = Store(
        name="cylinders", unit="L", full=9e9, floor=0.0, per_min=2.0, refills=((100, 7e6),), uses=kept
    )
    assert store.periods[0].room == 7e6

    for use, _ in came:
        kept.add(use)
        store.reckon(use, 1)
    for use, goes in came:
        if goes:
            kept.remove(use)
            store.reckon(use, -1)

    left = [use for use, goes in came if not goes]
    assert by_minute(kept.steps) == by_minute(levels((use.span, use.amount) for use in left))
    assert [use.span[0] for use in kept] == sorted(use.span[0] for use in left)
    total = sum(u.amount * max(0, min(u.span[1], within[1]) - max(u.span[0], within[0])) for u in left)
    assert abs(kept.total(*within) - total) < 1e-6
    inside = sum(u.amount * max(0, u.span[1] - max(u.span[0], 100)) for u in left)
    assert abs(store.periods[0].room - (7e6 - 2 * inside)) < 1e-6
    assert {key for key, uses in kept.by_occupancy.items() if uses} == {use.occupancy_id for use in left}
    assert sorted(kept.meeting(*within), key=repr) == sorted(
        (u for u in left if u.span[0] < within[1] and within[0] < u.span[1]), key=repr
    )
