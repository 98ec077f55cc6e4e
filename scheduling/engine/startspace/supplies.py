"""The starts that a supply certainly carries, and those for which it depends on what is chosen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from scheduling.engine.breakers import counted
from scheduling.engine.claims import draws
from scheduling.engine.heat import HOT_STATIONS, places_of
from scheduling.engine.records import Apparatus, Ask, Kind, SupplyRecord
from scheduling.engine.spans import TOLERANCE, Span, at_least, intersect, levels, subtract, union
from scheduling.engine.startspace.firings import Run, Spans, run_starts
from scheduling.engine.startspace.stations import candidates, longest_lead, shared_supplies, steps_beside
from scheduling.engine.startspace.windows import FAR, gaps, inside
from scheduling.engine.world import World


@dataclass(frozen=True, kw_only=True)
class Draw:
    """At most `amount` from s + begin to s + end; `exact` where it is just that, whatever is chosen."""

    amount: float
    begin: int
    end: int
    exact: bool = True


@dataclass(frozen=True, kw_only=True)
class Carried:
    """Starts that are carried whatever is chosen, and those for which it depends on the choice."""

    surely: tuple[Span, ...]
    perhaps: tuple[Span, ...] = ()


Asked = Mapping[int, Sequence[Draw]]


def either(found: Iterable[Carried]) -> Carried:
    """Starts that one or another of several ways carries."""
    every = list(found)
    if len(every) == 1:
        return every[0]
    surely = union(span for each in every for span in each.surely)
    perhaps = union(span for each in every for span in each.perhaps)
    return Carried(surely=surely, perhaps=subtract(perhaps, surely))


def both(one: Carried, other: Carried) -> Carried:
    """Starts that two needs allow: surely where both do so surely."""
    surely = intersect(one.surely, other.surely)
    if not one.perhaps and not other.perhaps:
        return Carried(surely=surely)
    any_one, any_other = (union((*each.surely, *each.perhaps)) for each in (one, other))
    return Carried(surely=surely, perhaps=subtract(intersect(any_one, any_other), surely))


def carried(world: World, asked: Asked, spans: Spans) -> Carried:
    """The starts, of some, at which every supply carries what is asked of it."""
    over = Over()
    for supply_id, own in asked.items() if spans else ():
        supply = world.supplies[supply_id]
        over.enter(supply.draws.steps_in(*_near(spans, own)), supply.limit, own)
    return over.left_of(spans)


@dataclass(kw_only=True)
class Over:
    """The starts that put more on some supply than it carries, and those of which it is not known."""

    never: list[Span] = field(default_factory=list)
    unsure: list[Span] = field(default_factory=list)

    def enter(self, steps: Sequence[tuple[Span, float]], limit: float, own: Sequence[Draw]) -> None:
        """One supply; what a draw comes to at most tells only the starts of which one is not sure."""
        exact = all(draw.exact for draw in own)
        (self.never if exact else self.unsure).extend(_over(steps, limit, own))

    def left_of(self, spans: Spans) -> Carried:
        """What is left of some starts."""
        if not self.never and not self.unsure:
            return Carried(surely=spans)
        left, unsure = subtract(spans, self.never), union(self.unsure)
        return Carried(surely=subtract(left, unsure), perhaps=intersect(left, unsure))


def _near(spans: Spans, own: Iterable[Draw]) -> Span:
    """The minutes in which something is drawn, whichever of some starts is taken."""
    return spans[0][0] + min(d.begin for d in own), spans[-1][1] + max(d.end for d in own)


def station_carried(world: World, ask: Ask, kind: Kind, count: int, within: Span) -> Carried:
    """The starts at which enough equipment of a kind can be had, and its supplies carry it."""
    found = list(candidates(world, ask, kind, within))
    if count == 1:
        return either(_one_carried(world, ask, apparatus, spans) for apparatus, spans in found if spans)
    enough = at_least(count, [spans for _, spans in found])
    asked = {key: [draw] for key, draw in _of_stations(world, ask, kind, count)}
    return carried(world, asked, enough)


def _one_carried(world: World, ask: Ask, apparatus: Apparatus, spans: Spans) -> Carried:
    """One station with its companions; what only one hot member draws is reckoned with its heat already."""
    bundle = (apparatus, *world.companions(apparatus))
    hot = apparatus.kind in HOT_STATIONS
    over = Over()
    for supply_id, draw in _of_station(world, apparatus, ask):
        if hot and supply_id not in shared_supplies(bundle):
            continue
        supply, near = world.supplies[supply_id], _near(spans, [draw])
        steps = steps_beside(world, supply_id, bundle, near) if hot else supply.draws.steps_in(*near)
        over.enter(steps, supply.limit, [draw])
    return over.left_of(spans)


def together_carried(world: World, asked: Asked, found: Carried) -> Carried:
    """The starts at which a supply also carries all needs of a class together, where several draw on it."""
    shared = {supply_id: own for supply_id, own in asked.items() if len(own) > 1}
    if not shared:
        return found
    return both(found, carried(world, shared, union((*found.surely, *found.perhaps))))


def run_carried(world: World, asked: Asked, run: Run, spans: Spans, *, alone: bool) -> Carried:
    """The starts, of some, at which the supplies carry a firing beside the stations of the class.

    A firing that is joined gives up what it draws now. `alone`: the class has no other firing.
    """
    if run.longest_wait:
        return _waiting_carried(world, asked, run, spans, alone=alone)
    over = Over()
    for supply_id, amount, known in _loads(run):
        supply, others = world.supplies[supply_id], asked.get(supply_id, ())
        steps = _steps_beside(supply, run)
        if known and alone and not others:
            spans = intersect(spans, _with_room(run, amount, steps, supply.limit))
        elif alone:
            over.enter(steps, supply.limit, (*others, of_run(run, amount, known=known)))
        else:
            # Where the class has another firing, what both draw together is not known here.
            over.unsure.extend(spans)
    return over.left_of(spans)


def _with_room(run: Run, amount: float, steps: Sequence[tuple[Span, float]], limit: float) -> Spans:
    """The starts whose run a supply carries beside these steps."""
    if amount > limit + TOLERANCE:
        return ()
    bad = union(span for span, used in steps if used + amount > limit + TOLERANCE)
    return inside(gaps(bad), run.lit_at, run.heat_off)


def _waiting_carried(world: World, asked: Asked, run: Run, spans: Spans, *, alone: bool) -> Carried:
    """The starts, of some, from which a loaded kiln can wait until its supplies carry it.

    Stations of the class are off before. Only where what follows them is lit later is there more room.
    """
    hours: Spans = ((-FAR, FAR),)
    near = run.lit_at.at(run.starts[0]), run.heat_off.at(run.starts[1]) + run.longest_wait
    for supply_id, amount, _ in _loads(run):
        supply = world.supplies[supply_id]
        hours = intersect(hours, _with_room(run, amount, supply.draws.steps_in(*near), supply.limit))
    if not alone:
        # Where the class has another firing, what both draw together is not known here.
        return Carried(surely=(), perhaps=spans)
    surely = intersect(union(run_starts(world, run, hours)), spans)
    if all(draw.exact for supply_id, _ in run.apparatus.draws for draw in asked.get(supply_id, ())):
        return Carried(surely=surely)
    return Carried(surely=surely, perhaps=subtract(spans, surely))


def _loads(run: Run) -> Iterator[tuple[int, float, bool]]:
    """What a run counts on each supply, at most; False where the start decides whether it is a long load."""
    ends = (run.starts[0], run.starts[1] - 1)
    shorter, longer = sorted(run.heat_off.at(start) - run.lit_at.at(start) for start in ends)
    for supply_id, amount in run.apparatus.draws:
        least, most = (counted(run.apparatus, supply_id, amount, length) for length in (shorter, longer))
        yield supply_id, most, least == most


def _steps_beside(supply: SupplyRecord, run: Run) -> Sequence[tuple[Span, float]]:
    """What is drawn while a run may draw, without what the firing that it joins draws now."""
    near = run.lit_at.at(run.starts[0]), run.heat_off.at(run.starts[1])
    steps = supply.draws.steps_in(*near)
    joined = run.joins.occupancy_id if run.joins is not None else None
    own = supply.draws.by_occupancy.get(joined, ()) if joined is not None else ()
    return levels([*steps, *((use.span, -use.amount) for use in own)]) if own else steps


def _over(steps: Sequence[tuple[Span, float]], limit: float, asked: Iterable[Draw]) -> Iterator[Span]:
    """The draws as a step function of the start; each step forbids the starts that put it on too little."""
    for begin, end, amount in _parts(asked):
        room = limit - amount + TOLERANCE
        if room < 0:
            yield -FAR, FAR
            return
        for (use_from, use_to), used in steps:
            if used > room:
                yield use_from - end + 1, use_to - begin


def _parts(asked: Iterable[Draw]) -> Iterator[tuple[int, int, float]]:
    rects = [draw for draw in asked if draw.amount > 0 and draw.begin < draw.end]
    edges = sorted({edge for draw in rects for edge in (draw.begin, draw.end)})
    for begin, end in pairwise(edges):
        amount = sum(draw.amount for draw in rects if draw.begin <= begin and end <= draw.end)
        if amount > TOLERANCE:
            yield begin, end, amount


def station_draws(world: World, ask: Ask) -> Asked:
    """The most that the stations of a class ask of each supply, need by need."""
    asked: dict[int, list[Draw]] = {}
    for kind, count in ask.stations:
        for supply_id, draw in _of_stations(world, ask, kind, count):
            asked.setdefault(supply_id, []).append(draw)
    return asked


def _of_stations(world: World, ask: Ask, kind: Kind, count: int) -> Iterator[tuple[int, Draw]]:
    """So many of one kind: exact where all of them draw alike, else no more than the greatest of them."""
    every = [
        dict(_of_station(world, apparatus, ask))
        for apparatus in world.of_kind(ask.studio_id, kind)
        if ask.only is None or apparatus.id in ask.only
        for _ in places_of(apparatus)
    ]
    for supply_id in {key for drawn in every for key in drawn}:
        yield supply_id, _widest([drawn.get(supply_id) for drawn in every], count)


def _widest(drawn: list[Draw | None], count: int) -> Draw:
    known = [draw for draw in drawn if draw is not None]
    amounts = sorted((draw.amount for draw in known), reverse=True)
    return Draw(
        amount=sum(amounts[:count]),
        begin=min(draw.begin for draw in known),
        end=max(draw.end for draw in known),
        exact=len(set(drawn)) == 1 and known[0].exact,
    )


def _of_station(world: World, apparatus: Apparatus, ask: Ask) -> Iterator[tuple[int, Draw]]:
    """A station with its companions, each from the earliest that it may have to be lit."""
    members = [apparatus, *world.companions(apparatus)] if apparatus.kind in HOT_STATIONS else [apparatus]
    found: dict[int, list[Draw]] = {}
    for member in members:
        hot = member.kind in HOT_STATIONS
        lead = longest_lead(member) if hot else member.prepare_min * (member.kind is Kind.TORCH)
        for supply_id, use in draws(member, (-lead, ask.teach_min), ""):
            draw = Draw(amount=use.amount, begin=-lead, end=ask.teach_min, exact=not hot)
            found.setdefault(supply_id, []).append(draw)
    for supply_id, each in found.items():
        yield supply_id, each[0] if len(each) == 1 else _together(each)


def _together(each: list[Draw]) -> Draw:
    return Draw(
        amount=sum(draw.amount for draw in each),
        begin=min(draw.begin for draw in each),
        end=max(draw.end for draw in each),
        exact=len({(draw.begin, draw.end) for draw in each}) == 1 and all(draw.exact for draw in each),
    )


def of_run(run: Run, amount: float, *, known: bool = True) -> Draw:
    """The window of a run's draw, however the start lies in its stretch and however long it waits."""
    first, last = run.starts[0], run.starts[1] - 1
    lit, off = run.lit_at, run.heat_off
    begin = lit.offset if lit.moves else lit.offset - last
    end = off.offset if off.moves else off.offset - first
    exact = known and lit.moves and off.moves and not run.longest_wait
    return Draw(amount=amount, begin=begin, end=end + run.longest_wait, exact=exact)
