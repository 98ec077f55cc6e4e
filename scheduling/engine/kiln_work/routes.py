"""Routes: the firings that pieces go through, what is done by hand between them, and the gaps.

The drying times and the lengths of handwork are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from studios.thermal import Recipe

HOUR, DAY = 60, 24 * 60


class RouteName(StrEnum):
    """What is wanted of the kilns, in the trade's words. The values are stored and sent: never renamed."""

    FUSE = "fuse"
    FUSE_SLUMP = "fuse-slump"
    TACK = "tack"
    PAINT = "paint"
    CAST = "cast"


class Handwork(StrEnum):
    """What somebody does by hand for a load, before it or after it."""

    WASH_SHELVES = "wash-shelves"
    PREPARE_MOULDS = "prepare-moulds"
    COLD_WORK = "cold-work"


@dataclass(frozen=True, kw_only=True)
class Before:
    """Handwork before a load: so many minutes, then so long to dry, and fired before it crumbles or soils."""

    does: Handwork
    minutes: int
    dry_min: int
    within_min: int


@dataclass(frozen=True, kw_only=True)
class FiringStep:
    """One firing of a route.

    `stacks`: shelves may stand one above the other on posts; what sinks into moulds, or is cast, lies on one.
    `in_moulds`: it lies in moulds, if the pieces have any. `cold_work`: it may be cold worked after it.
    """

    recipe: Recipe
    stacks: bool
    in_moulds: bool = False
    before: tuple[Before, ...] = ()
    cold_work: bool = False


@dataclass(frozen=True, kw_only=True)
class Route:
    """Firings in order. `first_after_min`: what is glued or painted dries so long after it has arrived."""

    name: RouteName
    firings: tuple[FiringStep, ...]
    first_after_min: int = 0


# Wash dries overnight in air; a mould that is washed, too. Washed shelves are fired within a week.
WASH = Before(does=Handwork.WASH_SHELVES, minutes=15, dry_min=8 * HOUR, within_min=7 * DAY)
MOULDS = Before(does=Handwork.PREPARE_MOULDS, minutes=20, dry_min=8 * HOUR, within_min=7 * DAY)
GLUE_DRY_MIN, PAINT_DRY_MIN = 12 * HOUR, 4 * HOUR

FUSED = FiringStep(recipe=Recipe.FULL_FUSE, stacks=True, before=(WASH,), cold_work=True)
SLUMPED = FiringStep(recipe=Recipe.SLUMP, stacks=False, in_moulds=True, before=(MOULDS,))

ROUTES = {
    route.name: route
    for route in (
        Route(name=RouteName.FUSE, firings=(FUSED,), first_after_min=GLUE_DRY_MIN),
        Route(name=RouteName.FUSE_SLUMP, firings=(FUSED, SLUMPED), first_after_min=GLUE_DRY_MIN),
        Route(
            name=RouteName.TACK,
            firings=(FiringStep(recipe=Recipe.TACK_FUSE, stacks=True, before=(WASH,), cold_work=True),),
            first_after_min=GLUE_DRY_MIN,
        ),
        Route(
            name=RouteName.PAINT,
            firings=(FiringStep(recipe=Recipe.FIRE_POLISH, stacks=True, before=(WASH,)),),
            first_after_min=PAINT_DRY_MIN,
        ),
        Route(
            name=RouteName.CAST,
            firings=(
                FiringStep(
                    recipe=Recipe.KILN_CAST,
                    stacks=False,
                    in_moulds=True,
                    before=(MOULDS,),
                    cold_work=True,
                ),
            ),
        ),
    )
}
