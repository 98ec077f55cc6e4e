"""The search: one aim after the other, each kept while the next is sought."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from scheduling.engine.planner.aims import COUNTED, measured
from scheduling.engine.planner.fewer_days import on_fewer_days
from scheduling.engine.planner.first_guess import costing_at_most, first_guess
from scheduling.engine.planner.hints import begin_from
from scheduling.engine.planner.known import known_bound
from scheduling.engine.planner.model import Expr, Model, lay_out
from scheduling.engine.planner.project import Aim, Project
from scheduling.engine.planner.reach import possible
from scheduling.engine.planner.result import Outcome, Placed, Placings, Result
from scheduling.engine.planner.rules import RULES
from scheduling.engine.planner.shifting import shifted
from scheduling.engine.planner.watched import Effort, News, OnBetter, Patience, minimised, rounded_up

# The first aim is what was asked for; each one after it only chooses among what is equally good.
FOR_THE_FIRST_AIM = 0.7
FOR_EACH_AIM_AFTER = 0.5
FOUND = {cp_model.OPTIMAL, cp_model.FEASIBLE}
OUTCOMES = {
    cp_model.OPTIMAL: Outcome.BEST,
    cp_model.FEASIBLE: Outcome.FOUND,
    cp_model.INFEASIBLE: Outcome.NONE,
    cp_model.UNKNOWN: Outcome.OPEN,
}


@dataclass(frozen=True, kw_only=True)
class Stage:
    """What came of one aim while those before it were kept."""

    aim: Aim
    outcome: Outcome
    plan: Placings
    bound: int

    @property
    def has_plan(self) -> bool:
        return self.outcome in {Outcome.BEST, Outcome.FOUND}


def solve(
    project: Project,
    aims: Sequence[Aim] = (Aim.FINISH,),
    *,
    patience: Patience | None = None,
    on_better: OnBetter | None = None,
) -> Result:
    """The plan with the least of the first aim, of those the one with the least of the second, and so on.

    `on_better(value, bound, seconds)` hears of the first aim; when patience is over the best so far is the
    answer. Both are asked in the thread that calls this. On one core, what is settled is the same each time.
    """
    patience = patience or Patience(effort=Effort())
    guess = _guess(project, aims[0])
    if guess and aims[0] is Aim.FINISH:
        project = _over_by(project, max(placed.end for placed in guess.values()))
    stages = tuple(_stages(_model(project), aims, guess, patience, on_better))
    return _result(project, stages, len(aims), patience)


def _guess(project: Project, aim: Aim) -> Placings:
    """For little cost in the cheapest ways, if these have room for all; for few visits on few days."""
    ways = possible(project)
    if aim is Aim.COST:
        least = {key: min((way.cost for way, _ in each), default=0) for key, each in ways.items()}
        return first_guess(project, costing_at_most(ways, least)) or first_guess(project, ways) or {}
    guess = first_guess(project, ways) or {}
    return on_fewer_days(project, ways, guess) if aim is Aim.VISITS else guess


def _over_by(project: Project, minute: int) -> Project:
    """Where the sooner is the better nothing need be looked for after a plan that is known.

    A closing of no length at the very end still has its minute.
    """
    return replace(project, within=(project.within[0], minute + 1))


def _model(project: Project) -> Model:
    model = lay_out(project, possible(project))
    for rule in RULES:
        rule(model)
    return model


def _stages(
    model: Model, aims: Sequence[Aim], plan: Placings, patience: Patience, on_better: OnBetter | None
) -> Iterator[Stage]:
    """As long as somebody waits, and a plan is there to keep."""
    for at, aim in enumerate(aims):
        share = 1.0 if at == len(aims) - 1 else FOR_EACH_AIM_AFTER if at else FOR_THE_FIRST_AIM
        stage = _least(model, aim, plan, patience.part(share), on_better)
        plan = _early(model, aims[: at + 1], stage.plan) if stage.plan else {}
        on_better = None
        yield replace(stage, plan=plan)
        if not stage.has_plan or patience.over:
            return


def _early(model: Model, aims: Sequence[Aim], plan: Placings) -> Placings:
    """The same, or laid anew in ways that cost no more, where all begins as early as it can.

    Of what was sought so far there may be no more of anything.
    """
    project, has = model.project, [measured(aim, model.project, plan) for aim in aims]

    def as_good(other: Placings) -> bool:
        return all(measured(aim, project, other) <= most for aim, most in zip(aims, has, strict=True))

    anew = first_guess(project, costing_at_most(model.ways, {key: plan[key].way.cost for key in plan}))
    plans = [plan] if anew is None or not as_good(anew) else [plan, anew]
    soonest = min(plans, key=lambda each: measured(Aim.FINISH, project, each))
    return shifted(project, model.ways, soonest, as_good)


def _least(model: Model, aim: Aim, plan: Placings, patience: Patience, on_better: OnBetter | None) -> Stage:
    """Beginning from a plan that is known. What comes after may not be worse by this aim."""
    counted, known = COUNTED[aim](model), known_bound(aim, model.project, model.ways)
    value = measured(aim, model.project, plan) if plan else None
    news = News(on_better=on_better, value=value, bound=known)
    news.hand_on(patience.seconds)
    if value is not None and value <= known:
        stage = Stage(aim=aim, outcome=Outcome.BEST, plan=plan, bound=known)
    else:
        stage = _sought(model, aim, counted, plan, patience, news)
    model.cp.add(counted <= measured(aim, model.project, stage.plan))
    return stage


def _sought(model: Model, aim: Aim, counted: Expr, plan: Placings, patience: Patience, news: News) -> Stage:
    begin_from(model, plan)
    model.cp.minimize(counted)
    solver, status = minimised(model.cp, patience, news, linear=_linear(model.project))
    model.cp.clear_objective()  # type: ignore[no-untyped-call]
    if status not in OUTCOMES:
        raise ValueError(model.cp.validate())
    found = _read(model, solver) if status in FOUND else plan
    best = min(filter(None, (found, plan)), key=lambda each: measured(aim, model.project, each), default={})
    outcome = Outcome.FOUND if status == cp_model.UNKNOWN and best else OUTCOMES[status]
    bound = rounded_up(solver.best_objective_bound) if status in FOUND else news.bound
    return Stage(aim=aim, outcome=outcome, plan=best, bound=max(bound, news.bound))


def _linear(project: Project) -> int:
    """Where no task has a choice it pays to weigh together what all draw: the published instances tell."""
    return 2 if all(len(task.ways) == 1 for task in project.tasks) else 1


def _read(model: Model, solver: cp_model.CpSolver) -> Placings:
    return {
        key: Placed(
            way=next(choice.way for choice in laid.choices if solver.value(choice.taken)),
            start=model.origin + solver.value(laid.start),
            end=model.origin + solver.value(laid.end),
        )
        for key, laid in model.laid.items()
    }


def _result(project: Project, stages: Sequence[Stage], asked: int, patience: Patience) -> Result:
    first, plan = stages[0], stages[-1].plan
    return Result(
        outcome=first.outcome,
        placed=plan,
        values={stage.aim: measured(stage.aim, project, plan) for stage in stages if stage.has_plan},
        bound=first.bound,
        settled=len(stages) == asked and all(stage.outcome is Outcome.BEST for stage in stages),
        seconds=patience.seconds,
    )
