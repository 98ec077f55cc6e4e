"""The small table at the end of a measurement."""

from __future__ import annotations

import pytest

from tests.benchmarks.measure import AGAINST, YARDSTICK, against, duration, table


def test_each_is_told_in_yardsticks_and_the_yardstick_comes_last() -> None:
    rows = list(table({YARDSTICK: 0.010, "test_one_firing": 0.00025, "test_zeal": 0.5}))

    assert rows[2:] == [
        "| one firing | 250 µs | 0.025 |",
        "| zeal | 500 ms | 50 |",
        "| yardstick a plain loop of exponentials | 10 ms | 1 |",
    ]


@pytest.mark.parametrize(
    ("seconds", "said"), [(2.345, "2.35 s"), (1.0, "1 s"), (0.0123, "12.3 ms"), (3.2e-6, "3.2 µs")]
)
def test_a_duration_in_three_figures(seconds: float, said: str) -> None:
    assert duration(seconds) == said


def test_what_is_held_against_something_of_the_same_run_is_told_as_its_multiple() -> None:
    (sheet, rows), *_ = AGAINST

    [line] = against({sheet: 0.075, rows: 0.030})

    assert line == "sheet of forty pieces as a page: 2.50 times sheet rows of forty pieces by values list"
    assert list(against({sheet: 0.075})) == []
