"""How fast loads are planned over several nights, and how near to what is proven. `make bench` measures."""

from __future__ import annotations

from itertools import pairwise

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scheduling.engine.planner.answers import Plan
from scheduling.engine.planner.loads import Wish
from scheduling.engine.planner.planning import plan
from scheduling.engine.planner.watched import Effort
from tests.benchmarks.fair import fair


@pytest.mark.parametrize("wish", Wish)
def test_forty_loads_in_four_kilns_and_three_weeks_in_ten_seconds(
    benchmark: BenchmarkFixture, wish: Wish
) -> None:
    asked = fair(wish)

    answer = benchmark.pedantic(lambda: plan(asked, effort=Effort(seconds=10.0)), rounds=1)

    assert isinstance(answer, Plan)
    for kiln_id in {fired.kiln_id for fired in answer.firings}:
        nights = sorted((f.loading, f.done) for f in answer.firings if f.kiln_id == kiln_id)
        assert all(one[1] <= other[0] for one, other in pairwise(nights))
    benchmark.extra_info |= {"gap": answer.gap, "bound": answer.bound, "visits": len(answer.visits)}


def test_eight_loads_in_four_kilns(benchmark: BenchmarkFixture) -> None:
    asked = fair(Wish.EARLIEST, pairs=4)

    answer = benchmark.pedantic(lambda: plan(asked), rounds=3)

    assert isinstance(answer, Plan)
    assert answer.proven
