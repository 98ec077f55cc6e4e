"""The search for a plan: one scheme after the other, the most promising first.

First all of it at one studio; then, if that could be better, some of it here and some there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from time import monotonic

from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.kiln_work.candidates import candidates
from scheduling.engine.kiln_work.joined import joined
from scheduling.engine.kiln_work.least import ready_bound
from scheduling.engine.kiln_work.never import never, no_turns, stopped
from scheduling.engine.kiln_work.question import Asking
from scheduling.engine.kiln_work.refusals import too_late
from scheduling.engine.kiln_work.scheme import Scheme
from scheduling.engine.kiln_work.studios import Parted, Places
from scheduling.engine.kiln_work.told import merit, told
from scheduling.engine.kiln_work.written import written
from scheduling.engine.planner.answers import Never, Plan, Reason
from scheduling.engine.planner.planning import sought
from scheduling.engine.planner.watched import Effort, Patience
from scheduling.engine.world import World

OnBetter = Callable[[WorkPlanned], None]
Stop = Callable[[], bool]
# So many schemes are searched, the most promising first; of a part of the work fewer.
SEARCHED = {Aim.EARLIEST: 16, Aim.CHEAPEST: 10, Aim.FEWEST_VISITS: 12}
SEARCHED_OF_A_PART = 4
# In seconds of an idle core: a scheme that takes longer is left with the best that was found for it. On a
# busy machine it may take so many times as long, so that it has the same plan there.
LONGEST_EACH, BUSY = 1.5, 4
# As long as there is no plan at all, it is searched so many times as long, and a third of the time for each.
FIRST_PLAN = 4
# What is left of the time for parting the pieces, where they can be parted.
FOR_ONE_STUDIO = 0.6
NOISE = 1e-6
# A first plan may be so much later than its rough sketch.
SPARE_MIN = 7 * 24 * 60


@dataclass(kw_only=True)
class Search:
    """The best plan so far, why schemes have none, and how long is left.

    `open`: of some scheme it is not known whether it has a plan.
    """

    places: Places
    on_better: OnBetter | None
    stop: Stop | None
    seconds: float
    best: WorkPlanned | None = None
    bound: int = 0
    reasons: list[Reason] = field(default_factory=list)
    begun: float = field(default_factory=monotonic)
    stopped: bool = False
    open: bool = False

    @property
    def asked(self) -> WorkAsked:
        return self.places.whole.asked

    @property
    def world(self) -> World:
        return self.places.whole.world

    @property
    def kept_by(self) -> int | None:
        """When all is due; who asks for the earliest is told of it also where that is too late."""
        return None if self.asked.aim is Aim.EARLIEST else self.asked.due

    def over(self) -> bool:
        """Whether whoever asked waits no more, or the time is over; a first plan may take longer."""
        self.stopped = self.stopped or (self.stop is not None and self.stop())
        most = self.seconds if self.best is not None else self.seconds * FIRST_PLAN
        return self.stopped or self.gone > most

    @property
    def gone(self) -> float:
        """How long it has been searched, in seconds."""
        return monotonic() - self.begun

    def answer(self) -> WorkPlanned | WorkRefused:
        """The best plan that is ready when it is due."""
        bound = ready_bound(self.places.whole)
        if bound is None:
            return no_turns(self.places.whole)
        self.bound = bound
        self.go_through()
        due = self.asked.due
        if self.best is None and due is not None and self.asked.aim is not Aim.EARLIEST:
            whole = replace(self.places.whole, asked=replace(self.asked, aim=Aim.EARLIEST))
            self.places = replace(self.places, whole=whole)
            self.go_through()
        if self.best is None:
            return stopped() if self.open else never(self.world, self.reasons)
        if due is not None and self.best.ready > due:
            return too_late(due, self.best, self.world)
        return self.best

    def go_through(self) -> None:
        """All at one studio; and parted, where there is no other way or it could be better."""
        alone = self.places.at_one()
        parts = len(self.places.whole.studios) > 1 and (not alone or self.asked.aim is not Aim.FEWEST_VISITS)
        until = self.begun + self.seconds * (FOR_ONE_STUDIO if parts else 1.0)
        for bench in alone:
            self.at_one(bench, until)
        if parts and not self.is_proven:
            self.go_through_parted()

    def go_through_parted(self) -> None:
        """The pieces dealt out in some ways; then a few of them moved, as long as that is better."""
        deals = self.places.parted()
        better = [parted for parted in deals if self.at_several(parted)]
        from_ = better[-1:] or deals
        while from_:
            others = (other for parted in from_ for other in self.places.otherwise(parted))
            from_ = [other for other in others if self.at_several(other)][-1:]

    @property
    def is_proven(self) -> bool:
        """Whether no plan is earlier than the best, where the earliest is wanted."""
        return self.best is not None and self.asked.aim is Aim.EARLIEST and self.best.ready <= self.bound

    def at_one(self, bench: Bench, until: float) -> None:
        """The most promising schemes of one studio."""
        for scheme in candidates(bench, self.over)[: SEARCHED[self.asked.aim]]:
            if self.over() or (self.best is not None and monotonic() > until):
                self.open = True
                return
            self.keep(None if self.is_outdone(scheme) else self.searched(bench, scheme, None))

    def at_several(self, parted: Parted) -> bool:
        """The best plan of each part, and those together; whether that is better than what there was."""
        if self.over() or self.is_proven:
            self.open = True
            return False
        if not all(bench.pieces for bench in parted):
            return False
        before = None if self.best is None or self.asked.aim is not Aim.EARLIEST else self.best.ready - 1
        plans: list[WorkPlanned] = []
        for bench in parted:
            plan = self.of_a_part(bench, before)
            if plan is None:
                return False
            plans.append(plan)
        return self.keep(joined(plans, bound=self.bound, aim=self.asked.aim))

    def of_a_part(self, bench: Bench, until: int | None) -> WorkPlanned | None:
        """The best plan for some of the pieces at one studio that is ready by a minute."""
        bound = ready_bound(bench)
        if bound is None or (until is not None and bound > until):
            return None
        best: WorkPlanned | None = None
        for scheme in candidates(bench, self.over)[:SEARCHED_OF_A_PART]:
            if best is not None and (self.over() or best.ready == bound):
                break
            plan = self.searched(bench, scheme, until)
            if plan is not None and (
                best is None or merit(plan, self.asked.aim) < merit(best, self.asked.aim)
            ):
                best = plan
        return best

    def keep(self, plan: WorkPlanned | None) -> bool:
        """A plan, if it is better than the best so far; whether it is."""
        aim = self.asked.aim
        if plan is None or (self.best is not None and merit(plan, aim) >= merit(self.best, aim)):
            return False
        self.best = plan
        if self.on_better is not None:
            self.on_better(plan)
        return True

    def latest(self, scheme: Scheme) -> int:
        """By when a plan of a scheme must be ready to be worth while."""
        until = scheme.over + SPARE_MIN
        if self.kept_by is not None:
            until = min(until, self.kept_by)
        if self.best is not None and self.asked.aim is Aim.EARLIEST:
            until = min(until, self.best.ready)
        return until

    def is_outdone(self, scheme: Scheme) -> bool:
        """Whether a scheme costs more than the best plan, however it runs."""
        if self.best is None or self.asked.aim is not Aim.CHEAPEST:
            return False
        return scheme.least_cost > self.best.cost + NOISE

    def patience(self) -> Patience:
        """How long one scheme is searched: longer as long as there is no plan at all."""
        work, seconds = LONGEST_EACH, min(BUSY * LONGEST_EACH, self.seconds - self.gone)
        if self.best is None:
            work, seconds = max(work, self.seconds / 3), FIRST_PLAN * self.seconds - self.gone
        return Patience(effort=Effort(seconds=max(0.5, seconds), work=work), stop=self.stop)

    def searched(self, bench: Bench, scheme: Scheme, until: int | None) -> WorkPlanned | None:
        """The best plan of one scheme that is ready by a minute, if it could be better than what there is."""
        asking = Asking(bench=bench, scheme=scheme)
        question, patience = asking.question(), self.patience()
        latest = self.latest(scheme) if until is None else min(until, self.latest(scheme))
        found = sought(question, question.aim, patience, None, until=latest)
        if isinstance(found, Never) and self.best is None:
            found = sought(question, question.aim, patience, None, until=self.kept_by)
            self.reasons.extend(found.reasons if isinstance(found, Never) else ())
        made = written(asking, found) if isinstance(found, Plan) else None
        self.open = self.open or (made is None and not isinstance(found, Never))
        return None if made is None else told(made, bound=self.bound)
