"""A search that says how far it is, and that can be stopped."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace
from math import ceil
from time import monotonic

from ortools.sat.python import cp_model

OnBetter = Callable[[int, int, float], None]
LOOK_EVERY_S = 0.05
NOISE = 1e-6


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How long to search at most, and on how many cores.

    `work` is in CP-SAT's own count of what it does, about a second of an idle core each. Unlike time it does
    not depend on what else the machine does: where it runs out first, one core gives the same plan each time.
    """

    seconds: float = 10.0
    work: float | None = None
    workers: int = 1
    seed: int = 1


@dataclass(frozen=True, kw_only=True)
class Patience:
    """What is left of the time, and whether anybody still waits. The parts of a search share `stopped`."""

    effort: Effort
    stop: Callable[[], bool] | None = None
    begun: float = field(default_factory=monotonic)
    until: float | None = None
    share: float = 1.0
    stopped: threading.Event = field(default_factory=threading.Event)

    @property
    def seconds(self) -> float:
        return monotonic() - self.begun

    @property
    def left(self) -> float:
        until = self.effort.seconds if self.until is None else self.until
        return max(until - self.seconds, 0.0)

    @property
    def over(self) -> bool:
        """Whoever has once said that they wait no more is not asked again."""
        if self.stop is not None and not self.stopped.is_set() and self.stop():
            self.stopped.set()
        return self.stopped.is_set()

    def part(self, share: float) -> Patience:
        """A share of the time that is left, and of all the work."""
        return replace(self, until=self.seconds + share * self.left, share=self.share * share)


@dataclass(kw_only=True)
class News:
    """The best plan and the best bound that are known, and whether whoever asked has heard of them."""

    on_better: OnBetter | None
    value: int | None
    bound: int
    heard: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)

    def tell(self, value: int | None, bound: int) -> None:
        with self.lock:
            is_better = value is not None and (self.value is None or value < self.value)
            self.heard = self.heard and not is_better and bound <= self.bound
            self.value, self.bound = value if is_better else self.value, max(bound, self.bound)

    def hand_on(self, seconds: float) -> None:
        """Without a plan there is nothing to tell yet."""
        with self.lock:
            value, bound, heard = self.value, self.bound, self.heard
            self.heard = self.heard or value is not None
        if self.on_better is not None and not heard and value is not None:
            self.on_better(value, bound, seconds)


class _Solutions(cp_model.CpSolverSolutionCallback):
    def __init__(self, news: News) -> None:
        super().__init__()
        self.news = news

    def on_solution_callback(self) -> None:
        self.news.tell(round(self.objective_value), rounded_up(self.best_objective_bound))


def rounded_up(bound: float) -> int:
    """What is counted is whole, so nothing lies between a bound and the next whole number."""
    return ceil(bound - NOISE)


def minimised(
    model: cp_model.CpModel, patience: Patience, news: News, *, linear: int
) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
    """The search runs in a thread of its own, so that whoever asked is told, and asked, in theirs."""
    solver = _solver(patience, linear)
    solver.best_bound_callback = lambda bound: news.tell(None, rounded_up(bound))
    with ThreadPoolExecutor(1) as beside:
        search = beside.submit(solver.solve, model, _Solutions(news))
        try:
            while not _ended(search):
                news.hand_on(patience.seconds)
                if patience.over:
                    solver.stop_search()
        finally:
            solver.stop_search()
    news.hand_on(patience.seconds)
    return solver, search.result()


def _ended(search: Future[cp_model.CpSolverStatus]) -> bool:
    return bool(wait([search], timeout=LOOK_EVERY_S).done)


def _solver(patience: Patience, linear: int) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = patience.left
    if patience.effort.work is not None:
        solver.parameters.max_deterministic_time = patience.share * patience.effort.work
    solver.parameters.num_workers = patience.effort.workers
    solver.parameters.random_seed = patience.effort.seed
    solver.parameters.linearization_level = linear
    solver.parameters.cp_model_probing_level = 0
    return solver
