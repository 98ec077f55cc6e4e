"""A load of a kiln job as the engine places it: a firing with no class before it, or hours of cold work.

What is planned and what is booked ask the same, in the same words, of the same world.
"""

from __future__ import annotations

from dataclasses import replace

from scheduling.engine.booked import Claims, Draws
from scheduling.engine.records import Ask, FiringAsk, Held, Kind, Taken
from scheduling.engine.world import World
from studios.thermal import Glass, Piece, Recipe, Shape


def flat_piece(glass: Glass, thickness_mm: float) -> Piece:
    """A piece of kiln work as the heat sees it: it lies on a shelf, or in a mould on it."""
    return Piece(glass=glass, shape=Shape.PLATE_ON_SHELF, thickness_mm=thickness_mm)


def bare_firing(
    *, title: str, studio_id: int, kiln_id: int, recipe: Recipe, piece: Piece, footprint_cm2: int
) -> Ask:
    """A load for one kiln: loading begins at the start, and the program when its door is closed."""
    need = FiringAsk(kind=Kind.KILN, recipe=recipe, piece=piece, footprint_cm2=footprint_cm2)
    return Ask(
        title=title,
        studio_id=studio_id,
        teach_min=0,
        firings=(need,),
        only=frozenset({kiln_id}),
        notice=False,
    )


def cold_work(*, title: str, studio_id: int, station_id: int, minutes: int) -> Ask:
    """So many minutes at one cold station."""
    return Ask(
        title=title,
        studio_id=studio_id,
        teach_min=minutes,
        stations=((Kind.COLD_STATION, 1),),
        only=frozenset({station_id}),
        notice=False,
    )


def never_waiting(world: World) -> World:
    """The same world, in which a loaded kiln starts at once: a plan for several nights counts on it.

    What is taken and drawn is shared with the world as it is.
    """
    kilns = {
        key: replace(each, longest_wait_min=0)
        for key, each in world.apparatus.items()
        if each.longest_wait_min
    }
    return replace(world, apparatus={**world.apparatus, **kilns}) if kilns else world


def apart(world: World) -> World:
    """The same world with books of its own: what is entered there is not entered in the other."""
    supplies = {key: replace(each, uses=Draws(each.uses)) for key, each in world.supplies.items()}
    stores = {
        key: replace(
            each, uses=supplies[key].uses if each.draws is world.supplies[key].draws else Draws(each.uses)
        )
        for key, each in world.stores.items()
    }
    taken = {key: Claims(each) for key, each in world.taken.items()}
    return replace(world, taken=taken, supplies=supplies, stores=stores)


def enter(world: World, held: Held, title: str) -> None:
    """What is placed takes its equipment, and what that draws, from those that are placed after it."""
    claim = Taken(
        apparatus_id=held.apparatus_id,
        place=held.place,
        span=held.exclusive,
        core=held.exclusive,
        held_by=title,
    )
    world.enter(claim, held.draws)
