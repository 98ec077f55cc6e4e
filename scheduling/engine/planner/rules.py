"""What holds for every plan: one rule, one function."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from scheduling.engine.planner.alike import alike
from scheduling.engine.planner.alone import held_alone, lone, most_starts
from scheduling.engine.planner.bounds import least_finish
from scheduling.engine.planner.model import Choice, Expr, Laid, Model
from scheduling.engine.planner.project import Draw, Key, Lag, Resource, Side
from scheduling.engine.spans import Span, clip, levels


def each_task_is_done_in_one_way(model: Model) -> None:
    for laid in model.laid.values():
        model.cp.add_exactly_one(choice.taken for choice in laid.choices)


def a_way_ends_promptly_or_waits_for_one_turn(model: Model) -> None:
    for _, choice in model.choices():
        if choice.waits:
            model.cp.add(choice.prompt + sum(choice.waits) == choice.taken)


def a_task_starts_when_its_way_can(model: Model) -> None:
    for laid, choice in model.choices():
        _starts_in(model, laid, choice.reach.prompt, choice.prompt)
        for (span, _), waits in zip(choice.reach.waiting, choice.waits, strict=True):
            _starts_in(model, laid, (span,), waits)


def _starts_in(model: Model, laid: Laid, spans: Sequence[Span], taken: cp_model.BoolVarT) -> None:
    domain = model.domain(spans)
    model.cp.add_linear_expression_in_domain(laid.start, domain).only_enforce_if(taken)


def a_task_ends_when_its_way_does(model: Model) -> None:
    for laid in model.laid.values():
        if isinstance(laid.length, int):
            continue
        model.cp.add(laid.start + laid.length == laid.end)
        for choice in laid.choices:
            model.cp.add(laid.length == choice.reach.length).only_enforce_if(choice.prompt)
            for (_, end), waits in zip(choice.reach.waiting, choice.waits, strict=True):
                model.cp.add(laid.end == end - model.origin).only_enforce_if(waits)


def all_is_over_once_every_task_has_ended(model: Model) -> None:
    for laid in model.laid.values():
        model.cp.add(model.over >= laid.end)


def nothing_is_over_before_it_can_be(model: Model) -> None:
    """It follows from the rest, but the search sees it sooner when it is said."""
    model.cp.add(model.over >= least_finish(model.project, model.ways) - model.origin)


def tasks_keep_their_distance(model: Model) -> None:
    for lag in model.project.lags:
        distance = _distance(model, lag)
        model.cp.add(distance >= lag.least)
        if lag.greatest is not None:
            model.cp.add(distance <= lag.greatest)


def _distance(model: Model, lag: Lag) -> Expr:
    before, after = model.laid[lag.before], model.laid[lag.after]
    return after.start - (before.end if lag.since is Side.END else before.start)


@dataclass(frozen=True, kw_only=True)
class Use:
    """A stretch of time in which a resource is drawn on, if at all."""

    interval: cp_model.IntervalVar
    amount: int


def resources_are_never_overdrawn(model: Model) -> None:
    for resource in model.project.resources:
        uses = [*_taken(model, resource), *_drawn(model, resource.key)]
        if _only_one_fits(uses, resource.capacity):
            model.cp.add_no_overlap(use.interval for use in uses)
        else:
            _add_cumulative(model, uses, resource.capacity)


def _only_one_fits(uses: Sequence[Use], capacity: int) -> bool:
    return all(capacity < 2 * use.amount and use.amount <= capacity for use in uses)


def _add_cumulative(model: Model, uses: Sequence[Use], capacity: int) -> None:
    model.cp.add_cumulative([use.interval for use in uses], [use.amount for use in uses], capacity)


def _taken(model: Model, resource: Resource) -> Iterator[Use]:
    """What is drawn already. Where it is more than there is, nothing more fits: that is all."""
    for span, amount in levels(resource.taken):
        for begin, end in clip((span,), model.project.within):
            interval = model.cp.new_fixed_size_interval_var(begin - model.origin, end - begin, "taken")
            yield Use(interval=interval, amount=min(round(amount), resource.capacity))


def _drawn(model: Model, key: Key) -> Iterator[Use]:
    for laid, choice in model.choices():
        for draw in choice.way.draws:
            if draw.resource == key and draw.lasts:
                yield Use(interval=_interval(model, laid, choice, draw), amount=draw.amount)


def _interval(model: Model, laid: Laid, choice: Choice, draw: Draw) -> cp_model.IntervalVar:
    """From so many minutes after the start to so many after it, or to the end of the task."""
    begin = laid.start + draw.begins
    if draw.ends is not None or not choice.waits:
        size = (choice.reach.length if draw.ends is None else draw.ends) - draw.begins
        return model.cp.new_optional_fixed_size_interval_var(begin, size, choice.taken, "draw")
    return model.cp.new_optional_interval_var(
        begin, laid.length - draw.begins, laid.end, choice.taken, "draw"
    )


def no_kiln_takes_more_than_fits_into_it(model: Model) -> None:
    """It follows from the rest, but the search sees it sooner when it is said."""
    alone = lone(model.project)
    takers: dict[Key, list[Choice]] = {}
    for _, choice in model.choices():
        takers.setdefault(held_alone(choice.way, alone), []).append(choice)
    for kiln, choices in takers.items():
        if kiln is not None:
            most = most_starts({c.reach for c in choices}, model.project.within, len(choices))
            model.cp.add(sum(c.taken for c in choices) <= most)


def alike_work_is_done_in_the_order_given(model: Model) -> None:
    """Of loads that are alike in everything it does not matter which comes first."""
    for group in alike(model.project):
        for one, other in pairwise(group):
            model.cp.add(model.laid[one[0].key].start <= model.laid[other[0].key].start)


RULES: tuple[Callable[[Model], None], ...] = (
    each_task_is_done_in_one_way,
    a_way_ends_promptly_or_waits_for_one_turn,
    a_task_starts_when_its_way_can,
    a_task_ends_when_its_way_does,
    all_is_over_once_every_task_has_ended,
    nothing_is_over_before_it_can_be,
    tasks_keep_their_distance,
    resources_are_never_overdrawn,
    no_kiln_takes_more_than_fits_into_it,
    alike_work_is_done_in_the_order_given,
)
