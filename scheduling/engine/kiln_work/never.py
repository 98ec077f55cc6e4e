"""Why kiln work is never done, as far as the hours are known: what the planner found, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from scheduling.engine.kiln_work.answers import WorkRefused
from scheduling.engine.kiln_work.bare import bare_firing, flat_piece
from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.planner.answers import Reason, Why
from scheduling.engine.records import Duty, Refusal, StudioRecord
from scheduling.engine.search import place
from scheduling.engine.spans import first_fit
from scheduling.engine.wording import at
from scheduling.engine.world import World
from studios.said import said, several_said

WORDS = {
    Why.NO_KILN: said("there is no kiln for one of its loads, or no station for its cold work"),
    Why.NO_TIME: said("one of its loads, or its handwork, fits nowhere between what is booked and staffed"),
    Why.GAP: said("what has to follow one another cannot"),
    Why.CHAIN: said("what has to follow one another cannot"),
    Why.KILNS: said("the kilns are free too seldom"),
    Why.STATIONS: said("the cold station is free too seldom"),
    Why.GREATEST_GAPS: said("what is washed or prepared would have to wait too long"),
    Why.TOGETHER: said("there is room for each load, but not for all of them"),
}


def never(world: World, reasons: Iterable[Reason]) -> WorkRefused:
    """No plan holds all of it."""
    causes = dict.fromkeys(_words(world, reason) for reason in reasons)
    why = several_said(causes or [WORDS[Why.TOGETHER]], "; ")
    return _refused(world, why)


def _words(world: World, reason: Reason) -> str:
    if reason.why is Why.SUPPLY:
        names = (world.supplies[key].name for key in reason.of if isinstance(key, int))
        return said("{supply} carries too little at once", supply=several_said(names, ", "))
    return WORDS[reason.why]


def no_turns(bench: Bench) -> WorkRefused:
    """No kiln is ever free and staffed for a load: what the engine says of when somebody first could."""
    causes = dict.fromkeys(_first_refusals(bench))
    why = several_said(causes or [WORDS[Why.NO_TIME]], " ")
    return _refused(bench.world, why)


def _first_refusals(bench: Bench) -> Iterator[str]:
    asked = bench.asked
    for kind in bench.kinds:
        for kiln_id in kind.kiln_ids:
            ask = bare_firing(
                title=asked.title,
                studio_id=kind.studio_id,
                kiln_id=kiln_id,
                recipe=asked.route.firings[min(bench.steps, default=0)].recipe,
                piece=flat_piece(asked.glass, asked.thickness_mm),
                footprint_cm2=0,
            )
            answer = place(bench.world, ask, _first_staffed(bench, kind.studio_id, kiln_id))
            if isinstance(answer, Refusal):
                yield from (reason.sentence for reason in answer.reasons)


def _first_staffed(bench: Bench, studio_id: int, kiln_id: int) -> int:
    """The first minute from which on somebody stays for all of the loading."""
    staffed = bench.world.studios[studio_id].staffed[Duty.LOAD]
    begin = first_fit(staffed, bench.first, bench.world.apparatus[kiln_id].prepare_min)
    return bench.first if begin is None else begin


def _refused(world: World, why: str) -> WorkRefused:
    studio: StudioRecord = next(iter(world.studios.values()))
    return WorkRefused(
        code="never",
        sentence=said(
            "There is no plan that is ready by {until}: {why}", until=at(world.horizon[1], studio), why=why
        ),
    )


def no_cold_station(studio: StudioRecord) -> WorkRefused:
    """Cold work was asked for, where there is nothing to do it at."""
    return WorkRefused(
        code="no-cold-station",
        sentence=said(
            "{studio} has no cold station; leave the cold work out, or have it done elsewhere.",
            studio=studio.name,
        ),
    )


def stopped() -> WorkRefused:
    """Time or patience ran out before anything was found."""
    return WorkRefused(
        code="not-found-in-time",
        sentence=said("No plan was found before the search ended. Seek again, and wait a little longer."),
    )
