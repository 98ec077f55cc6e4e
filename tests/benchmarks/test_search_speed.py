"""How fast the earliest start of six pieces with offsets is found in a busy year. `make bench` measures.

Beside the engine stand five other ways to answer the same question; all of them must find the same minute.
"""

from __future__ import annotations

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scheduling.engine.records import Ask
from scheduling.engine.startspace.space import first_start, start_space
from scheduling.engine.world import World
from tests.benchmarks import ways
from tests.benchmarks.year import YEAR_MIN, Window, year


@pytest.fixture(scope="module")
def loaded() -> tuple[World, Ask, list[Window]]:
    return year()


@pytest.fixture(scope="module")
def minute(loaded: tuple[World, Ask, list[Window]]) -> int:
    """The answer, by trying every minute."""
    _, _, windows = loaded
    taken = [bytearray(YEAR_MIN + 1000) for _ in windows]
    for window, minutes in zip(windows, taken, strict=True):
        for begin, end in window.taken:
            minutes[begin:end] = b"\x01" * (end - begin)
    return next(
        start
        for start in range(100, YEAR_MIN)
        if not any(
            any(minutes[start - w.before : start + w.after])
            for w, minutes in zip(windows, taken, strict=True)
        )
    )


Loaded = tuple[World, Ask, list[Window]]


def test_earliest_of_six_by_the_engine(benchmark: BenchmarkFixture, loaded: Loaded, minute: int) -> None:
    world, ask, _ = loaded
    first_start(world, ask, 0, YEAR_MIN)

    assert benchmark(lambda: first_start(world, ask, 0, YEAR_MIN)) == minute


def test_earliest_of_six_by_the_engine_asked_for_the_first_time(
    benchmark: BenchmarkFixture, loaded: Loaded, minute: int
) -> None:
    """A question with offsets that nobody has asked of this world before."""
    world, ask, _ = loaded

    def afresh() -> int | None:
        for apparatus_id in world.apparatus:
            world.claims(apparatus_id).forget()
        return first_start(world, ask, 0, YEAR_MIN)

    assert benchmark(afresh) == minute


def test_all_starts_of_six_in_the_year_by_the_engine(
    benchmark: BenchmarkFixture, loaded: Loaded, minute: int
) -> None:
    world, ask, _ = loaded

    found = benchmark(lambda: start_space(world, ask, 0, YEAR_MIN))

    assert found[0][0] == minute


def test_earliest_of_six_by_bits(benchmark: BenchmarkFixture, loaded: Loaded, minute: int) -> None:
    _, _, windows = loaded
    bits = ways.as_bits(windows)

    assert benchmark(lambda: ways.by_bits(windows, bits)) == minute


def test_earliest_of_six_by_numpy_gaps(benchmark: BenchmarkFixture, loaded: Loaded, minute: int) -> None:
    _, _, windows = loaded
    arrays = ways.as_arrays(windows)

    assert benchmark(lambda: ways.by_gaps(windows, arrays)) == minute


def test_earliest_of_six_by_bisect_and_jump(benchmark: BenchmarkFixture, loaded: Loaded, minute: int) -> None:
    _, _, windows = loaded
    lists = ways.as_lists(windows)

    assert benchmark(lambda: ways.by_jumps(windows, lists)) == minute


def test_earliest_of_six_by_interval_tree(benchmark: BenchmarkFixture, loaded: Loaded, minute: int) -> None:
    _, _, windows = loaded

    assert benchmark.pedantic(lambda: ways.by_trees(windows), rounds=3) == minute


def test_earliest_of_six_by_portion(benchmark: BenchmarkFixture, loaded: Loaded, minute: int) -> None:
    _, _, windows = loaded

    assert benchmark.pedantic(lambda: ways.by_portions(windows), rounds=3) == minute
