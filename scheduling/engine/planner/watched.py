"""A search that says how far it is, and that can be stopped."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace
from time import monotonic

from ortools.sat.python import cp_model

OnBetter = Callable[[int, int, float], None]
LOOK_EVERY_S = 0.05


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How long to search at most, and on how many cores. On one core the same search gives the same plan."""

    seconds: float = 10.0
    workers: int = 1
    seed: int = 1


@dataclass(frozen=True, kw_only=True)
class Patience:
    """What is left of the time, and whether anybody still waits. The parts of a search share `stopped`."""

    effort: Effort
    stop: Callable[[], bool] | None = None
    begun: float = field(default_factory=monotonic)
    until: float | None = None
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
        """A share of what is left, for one aim."""
        return replace(self, until=self.seconds + share * self.left)


@dataclass
class News:
    """The best plan and the best bound that a search has told of, and whether anybody has heard of them."""

    value: int | None = None
    bound: int | None = None
    heard: bool = True
    lock: threading.Lock = field(default_factory=threading.Lock)

    def tell(self, value: int | None, bound: int) -> None:
        with self.lock:
            self.value = self.value if value is None else value
            self.bound = bound if self.bound is None else max(self.bound, bound)
            self.heard = False

    def hand_on(self, on_better: OnBetter | None, seconds: float) -> None:
        """Without a plan there is nothing to tell yet."""
        with self.lock:
            value, bound, heard = self.value, self.bound, self.heard
            self.heard = self.heard or value is not None
        if on_better and not heard and value is not None and bound is not None:
            on_better(value, bound, seconds)


class _Solutions(cp_model.CpSolverSolutionCallback):
    def __init__(self, news: News) -> None:
        super().__init__()
        self.news = news

    def on_solution_callback(self) -> None:
        self.news.tell(round(self.objective_value), round(self.best_objective_bound))


def minimised(
    cp: cp_model.CpModel, patience: Patience, on_better: OnBetter | None
) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
    """The search runs in a thread of its own, so that whoever asked is told, and asked, in theirs."""
    solver, news = _solver(patience), News()
    solver.best_bound_callback = lambda bound: news.tell(None, round(bound))
    with ThreadPoolExecutor(1) as beside:
        search = beside.submit(solver.solve, cp, _Solutions(news))
        try:
            while not _ended(search):
                news.hand_on(on_better, patience.seconds)
                if patience.over:
                    solver.stop_search()
        finally:
            solver.stop_search()
    news.hand_on(on_better, patience.seconds)
    return solver, search.result()


def _ended(search: Future[cp_model.CpSolverStatus]) -> bool:
    return bool(wait([search], timeout=LOOK_EVERY_S).done)


def _solver(patience: Patience) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = patience.left
    solver.parameters.num_workers = patience.effort.workers
    solver.parameters.random_seed = patience.effort.seed
    solver.parameters.linearization_level = 2
    return solver
