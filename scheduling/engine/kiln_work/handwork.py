"""What somebody does by hand: what is washed or prepared before a load and dries, and cold work after it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from scheduling.engine.kiln_work.asked import HandDone, PieceAsked
from scheduling.engine.kiln_work.routes import Before, FiringStep, Handwork
from scheduling.engine.records import Duty, StudioRecord
from scheduling.engine.spans import Span, clip, intersect, overlapping, union

if TYPE_CHECKING:
    from scheduling.engine.kiln_work.laying import LoadLaid

# Nobody stands at a wheel for longer without a break: common practice, no source.
LONGEST_COLD_MIN = 4 * 60


def needed_before(step: FiringStep, load: LoadLaid) -> tuple[Before, ...]:
    """What is done by hand for a load; moulds are prepared where it has any."""
    return tuple(each for each in step.before if each.does is not Handwork.PREPARE_MOULDS or load.moulds)


def needed_by_all(step: FiringStep, pieces: Iterable[PieceAsked]) -> tuple[Before, ...]:
    """What is done by hand for every load, whatever lies in it."""
    moulded = all(piece.mould is not None for piece in pieces)
    return tuple(each for each in step.before if each.does is not Handwork.PREPARE_MOULDS or moulded)


def ahead(studio: StudioRecord, now: int) -> tuple[Span, ...]:
    """When somebody is there who loads, from now on: they wash and prepare, too."""
    return tuple((max(begin, now), end) for begin, end in studio.staffed[Duty.LOAD] if end > now)


def after_handwork(
    begins: Sequence[Span], needs: Iterable[Before], hours: Sequence[Span], done: Sequence[HandDone] = ()
) -> tuple[Span, ...]:
    """The minutes at which loading may begin: somebody is there in time for each need, or has done it."""
    left = tuple(begins)
    for need in needs:
        already = ((each.dry, each.until + 1) for each in done if each.does is need.does)
        left = intersect(left, union([*_loadable(need, hours), *already]))
    return left


def _loadable(need: Before, hours: Sequence[Span]) -> Iterator[Span]:
    for opens, closes in hours:
        if closes - opens >= need.minutes:
            yield opens + need.minutes + need.dry_min, closes + need.within_min + 1


def latest_before(
    need: Before, begin: int, hours: Sequence[Span], *, since: int, visited: Sequence[Span]
) -> Span | None:
    """When it is done for a load: as late as it dries in time, if it can on a day on which somebody comes."""
    window = max(since, begin - need.within_min - need.minutes), begin - need.dry_min
    open_then = [clip((span,), window) for span in overlapping(hours, *window)]
    fit = [span for spans in open_then for span in spans if span[1] - span[0] >= need.minutes]
    rather = [span for day in visited for span in clip(fit, day) if span[1] - span[0] >= need.minutes]
    latest = max(rather or fit, default=None, key=lambda span: span[1])
    return None if latest is None else (latest[1] - need.minutes, latest[1])


def cold_parts(pieces: Sequence[int], each_min: int) -> list[tuple[int, ...]]:
    """The pieces of a load that are worked at the cold station in one go."""
    most = max(1, LONGEST_COLD_MIN // each_min)
    return [tuple(pieces[first : first + most]) for first in range(0, len(pieces), most)]
