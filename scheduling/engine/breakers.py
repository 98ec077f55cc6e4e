"""Breakers: a load that may last three hours or more counts at 125 % of what it draws.

So all such loads together take at most 80 % of the breaker's rating: NEC (NFPA 70) 210.20(A) and 215.3.
"""

from __future__ import annotations

from collections.abc import Sequence

from scheduling.engine.records import Apparatus, Kind
from scheduling.engine.spans import Span
from scheduling.engine.world import World

LONG_MIN = 3 * 60
LONG_SHARE = 1.25
# The session after may find these hot, so nobody can say how long they stay on.
KEPT_ON = frozenset({Kind.GLORY_HOLE, Kind.PIPE_WARMER})


def counted(apparatus: Apparatus, supply_id: int, amount: float, minutes: int) -> float:
    """What a draw counts on its supply when the heat, or the work, is on for so many minutes."""
    long = minutes >= LONG_MIN or apparatus.kind in KEPT_ON
    return amount * LONG_SHARE if long and supply_id in apparatus.breakers else amount


def drawn(apparatus: Apparatus, span: Span) -> Sequence[tuple[int, float]]:
    """What each of its supplies counts of its full connected draw over a span."""
    if not apparatus.breakers:
        return apparatus.draws
    minutes = span[1] - span[0]
    return [(key, counted(apparatus, key, amount, minutes)) for key, amount in apparatus.draws]


def is_breaker(world: World, supply_id: int) -> bool:
    """Whether the limit of a supply is what its breaker is rated for."""
    return any(supply_id in apparatus.breakers for apparatus in world.apparatus.values())
