"""The search for a plan: one scheme after the other, the most promising first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from time import monotonic

from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.candidates import Bench, candidates
from scheduling.engine.kiln_work.least import ready_bound
from scheduling.engine.kiln_work.never import never, no_turns, stopped
from scheduling.engine.kiln_work.question import Asking
from scheduling.engine.kiln_work.refusals import too_late
from scheduling.engine.kiln_work.scheme import Scheme
from scheduling.engine.kiln_work.told import merit, told
from scheduling.engine.kiln_work.written import written
from scheduling.engine.planner.answers import Never, Plan, Reason
from scheduling.engine.planner.planning import sought
from scheduling.engine.planner.watched import Effort, Patience
from scheduling.engine.world import World

OnBetter = Callable[[WorkPlanned], None]
Stop = Callable[[], bool]
# So many schemes are searched, the most promising first.
SEARCHED = {Aim.EARLIEST: 16, Aim.CHEAPEST: 10, Aim.FEWEST_VISITS: 12}
# In seconds: a scheme that takes longer is left with the best that was found for it.
LONGEST_EACH = 1.5
# As long as there is no plan at all, it is searched so many times as long.
FIRST_PLAN = 4
NOISE = 1e-6
# A first plan may be so much later than its rough sketch.
SPARE_MIN = 7 * 24 * 60


@dataclass(kw_only=True)
class Search:
    """At some studios: the best plan so far, why schemes have none, and how long is left.

    `open`: of some scheme it is not known whether it has a plan.
    """

    benches: list[Bench]
    on_better: OnBetter | None
    stop: Stop | None
    seconds: float
    best: WorkPlanned | None = None
    reasons: list[Reason] = field(default_factory=list)
    begun: float = field(default_factory=monotonic)
    stopped: bool = False
    open: bool = False

    @property
    def asked(self) -> WorkAsked:
        return self.benches[0].asked

    @property
    def world(self) -> World:
        return self.benches[0].world

    @property
    def kept_by(self) -> int | None:
        """When all is due; who asks for the earliest is told of it also where that is too late."""
        return None if self.asked.aim is Aim.EARLIEST else self.asked.due

    def latest(self, scheme: Scheme) -> int:
        """By when a plan of a scheme must be ready to be worth while."""
        until = scheme.over + SPARE_MIN
        if self.kept_by is not None:
            until = min(until, self.kept_by)
        if self.best is not None and self.asked.aim is Aim.EARLIEST:
            until = min(until, self.best.ready)
        return until

    @property
    def over(self) -> bool:
        """Whether patience has run out, or time; on a busy machine a first plan takes longer."""
        self.stopped = self.stopped or (self.stop is not None and self.stop())
        most = self.seconds if self.best is not None else self.seconds * FIRST_PLAN
        return self.stopped or monotonic() - self.begun > most

    def answer(self) -> WorkPlanned | WorkRefused:
        """The best plan that is ready when it is due."""
        bounds = [bound for bench in self.benches if (bound := ready_bound(bench)) is not None]
        if not bounds:
            return no_turns(self.benches)
        self.go_through(min(bounds))
        due = self.asked.due
        if self.best is None and due is not None and self.asked.aim is not Aim.EARLIEST:
            self.benches = [
                replace(bench, asked=replace(self.asked, aim=Aim.EARLIEST)) for bench in self.benches
            ]
            self.go_through(min(bounds))
        if self.best is None:
            return stopped() if self.open else never(self.world, self.reasons)
        if due is not None and self.best.ready > due:
            studio = self.world.studios[self.best.loads[0].studio_id]
            return too_late(due, self.best, studio)
        return self.best

    def go_through(self, bound: int) -> None:
        """Search the most promising schemes of all studios."""
        found = [
            (bench, scheme)
            for bench in self.benches
            for scheme in candidates(bench)[: SEARCHED[self.asked.aim]]
        ]
        for bench, scheme in found:
            if self.over:
                self.open = True
                return
            plan = None if self.is_outdone(scheme) else self.searched(bench, scheme, bound)
            if plan is not None and self.is_better(plan):
                self.best = plan
                if self.on_better is not None:
                    self.on_better(plan)

    def is_better(self, plan: WorkPlanned) -> bool:
        aim = self.asked.aim
        return self.best is None or merit(plan, aim) < merit(self.best, aim)

    def is_outdone(self, scheme: Scheme) -> bool:
        """Whether a scheme costs more than the best plan, however it runs."""
        if self.best is None or self.asked.aim is not Aim.CHEAPEST:
            return False
        return scheme.least_cost > self.best.cost + NOISE

    def patience(self) -> Patience:
        """How long one scheme is searched: longer as long as there is no plan at all."""
        left = self.seconds - (monotonic() - self.begun)
        most = LONGEST_EACH if self.best is not None else max(LONGEST_EACH, left / 3)
        return Patience(effort=Effort(seconds=max(0.5, min(most, left))), stop=self.stop)

    def searched(self, bench: Bench, scheme: Scheme, bound: int) -> WorkPlanned | None:
        """The best plan of one scheme, if it could be better than what there is."""
        asking = Asking(world=bench.world, asked=bench.asked, usable=bench.usable, scheme=scheme)
        question, patience = asking.question(), self.patience()
        found = sought(question, question.aim, patience, None, until=self.latest(scheme))
        if isinstance(found, Never) and self.best is None:
            found = sought(question, question.aim, patience, None, until=self.kept_by)
            self.reasons.extend(found.reasons if isinstance(found, Never) else ())
        made = written(asking, found) if isinstance(found, Plan) else None
        self.open = self.open or (made is None and not isinstance(found, Never))
        return None if made is None else told(made, bound=bound)
