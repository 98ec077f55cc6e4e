"""The kilns that may take the work: how each firing of its route runs in them; who is left out, and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from scheduling.engine.breakers import counted
from scheduling.engine.kiln_work.asked import HandDone, KilnShelves, PieceAsked, WorkAsked
from scheduling.engine.kiln_work.bare import bare_firing, flat_piece
from scheduling.engine.kiln_work.handwork import after_handwork, ahead, needed_by_all
from scheduling.engine.kilns import program
from scheduling.engine.records import Apparatus, Duty, Kind
from scheduling.engine.spans import Span, clip, first_fit
from scheduling.engine.startspace.space import start_space
from scheduling.engine.startspace.stations import record_spans
from scheduling.engine.world import World
from studios.said import said, unstopped
from studios.thermal import FiringPlan, Recipe, ThermalError


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A kiln that is not asked, and why."""

    name: str
    why: str


@dataclass(frozen=True, kw_only=True)
class KilnRun:
    """How one firing of the route runs in a kiln under one thermal record, however much lies in it.

    `begins` are the minutes at which loading may begin, with what is always done by hand before it done.
    """

    kiln: Apparatus
    plan: FiringPlan
    begins: tuple[Span, ...]
    unload_staffed: tuple[Span, ...]

    @property
    def cools_after(self) -> int:
        """From the beginning of loading until it is cool enough to open."""
        return self.kiln.prepare_min + self.plan.tail_min

    @cached_property
    def draws(self) -> tuple[tuple[int, float], ...]:
        """What it counts on each of its supplies while its controller may switch it on."""
        minutes = self.plan.switching_min
        return tuple((key, counted(self.kiln, key, amount, minutes)) for key, amount in self.kiln.draws)

    def done(self, begin: int) -> int | None:
        """When what is loaded from a minute on is unloaded, if ever."""
        unload = first_fit(self.unload_staffed, begin + self.cools_after, self.kiln.clear_min)
        return None if unload is None else unload + self.kiln.clear_min


@dataclass(frozen=True, kw_only=True)
class Usable:
    """The kilns that can fire what is left of the route, how its firings run in them, and those left out."""

    kilns: tuple[KilnShelves, ...]
    runs: Mapping[tuple[int, int], tuple[KilnRun, ...]]
    left_out: tuple[LeftOut, ...]

    def of(self, kiln_id: int, step: int) -> tuple[KilnRun, ...]:
        """How a firing of the route, counted from 0, runs in a kiln."""
        return self.runs.get((kiln_id, step), ())

    def shelves_of(self, kiln_id: int) -> KilnShelves:
        """The shelves of one of them."""
        return next(each for each in self.kilns if each.kiln_id == kiln_id)


def free_from(asked: WorkAsked, piece: PieceAsked, now: int) -> int:
    """From when on a piece may be loaded or worked: it is there, and what was glued or painted is dry."""
    come = asked.arrives + asked.route.first_after_min
    return max(now, come if piece.free is None else piece.free)


def usable(world: World, asked: WorkAsked) -> Usable:
    """What there is to fire in; a kiln whose shelves nobody measured, or without a record, is left out."""
    runs: dict[tuple[int, int], tuple[KilnRun, ...]] = {}
    fit: list[KilnShelves] = []
    left = list(_without_shelves(world, asked))
    for each in asked.kilns:
        kiln = world.apparatus[each.kiln_id]
        why = _unfit(world, asked, kiln)
        if why:
            left.append(LeftOut(name=kiln.name, why=why))
            continue
        fit.append(each)
        for step in _steps(asked):
            runs[kiln.id, step] = tuple(_runs(world, asked, kiln, step))
    return Usable(kilns=tuple(fit), runs=runs, left_out=tuple(left))


def _steps(asked: WorkAsked) -> range:
    """The firings that any piece still goes through."""
    return range(min((piece.first for piece in asked.pieces), default=0), len(asked.route.firings))


def _without_shelves(world: World, asked: WorkAsked) -> Iterator[LeftOut]:
    measured = {each.kiln_id for each in asked.kilns}
    for kiln in world.apparatus.values():
        if kiln.kind is Kind.KILN and kiln.active and kiln.id not in measured:
            yield LeftOut(name=kiln.name, why=said("nobody has entered how large its shelves are"))


def _unfit(world: World, asked: WorkAsked, kiln: Apparatus) -> str:
    """Why a kiln cannot fire what is left of the route, whenever it is."""
    if not kiln.active:
        return said("it is out of service")
    if not kiln.bodies:
        return said("it has no thermal record")
    recipes = (asked.route.firings[step].recipe for step in _steps(asked))
    reasons = (_cannot(world, asked, kiln, recipe) for recipe in recipes)
    return next((why for why in reasons if why), "")


def _cannot(world: World, asked: WorkAsked, kiln: Apparatus, recipe: Recipe) -> str:
    """Why a kiln can never run a firing: none of its records allows it."""
    found = [_plan(world, asked, kiln, recipe, since) for since, _ in kiln.bodies]
    return "" if any(isinstance(each, FiringPlan) for each in found) else str(found[0])


def _plan(world: World, asked: WorkAsked, kiln: Apparatus, recipe: Recipe, closed: int) -> FiringPlan | str:
    body, policy = kiln.body_at(closed), world.studios[kiln.studio_id].policy
    piece = flat_piece(asked.glass, asked.thickness_mm)
    if body is None:
        return said("it has no thermal record")
    try:
        return program(recipe, (piece,), body, policy, kiln.controller_segments)
    except ThermalError as error:
        return said("it cannot fire this: {why}", why=unstopped(error.said))


def _runs(world: World, asked: WorkAsked, kiln: Apparatus, step: int) -> Iterator[KilnRun]:
    """A firing under each thermal record that is in force when the door is closed."""
    recipe, studio = asked.route.firings[step].recipe, world.studios[kiln.studio_id]
    needs = needed_by_all(asked.route.firings[step], asked.pieces)
    begins = after_handwork(
        _begins(world, asked, kiln, recipe), needs, ahead(studio, world.now), done_for(asked, kiln)
    )
    for since, before in record_spans(kiln):
        plan = _plan(world, asked, kiln, recipe, since)
        under = clip(begins, (since - kiln.prepare_min, before - kiln.prepare_min))
        if isinstance(plan, FiringPlan) and under:
            yield KilnRun(kiln=kiln, plan=plan, begins=under, unload_staffed=studio.staffed[Duty.UNLOAD])


def done_for(asked: WorkAsked, kiln: Apparatus) -> tuple[HandDone, ...]:
    """The handwork for a load in a kiln that is done already."""
    return tuple(each for each in asked.done if each.is_at(kiln.studio_id, kiln.id))


def _begins(world: World, asked: WorkAsked, kiln: Apparatus, recipe: Recipe) -> tuple[Span, ...]:
    """Every minute at which loading may begin, beside all that is booked."""
    ask = bare_firing(
        title=asked.title,
        studio_id=kiln.studio_id,
        kiln_id=kiln.id,
        recipe=recipe,
        piece=flat_piece(asked.glass, asked.thickness_mm),
        footprint_cm2=0,
    )
    first = min(free_from(asked, piece, world.now) for piece in asked.pieces)
    return start_space(world, ask, first, world.horizon[1])
