"""`python -m tests.benchmarks.measure`: measure, and tell each in yardsticks of the same run."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

YARDSTICK = "test_yardstick_a_plain_loop_of_exponentials"
# What is measured without a database, and what is on PostgreSQL.
RUNS = (
    ("tests/benchmarks", "-k", "speed"),
    ("tests/scenarios/test_search_at_size.py", "-p", "tests.plugins.postgres"),
    ("tests/scenarios/test_calendar_at_size.py", "-p", "tests.plugins.postgres"),
)
# What is told as a multiple of something else of the same run.
AGAINST = (("test_sheet_of_forty_pieces_as_a_page", "test_sheet_rows_of_forty_pieces_by_values_list"),)
ARGUMENTS = (
    "-p",
    "no:cacheprovider",
    "--benchmark-enable",
    "--benchmark-only",
    "--benchmark-columns=median,ops,rounds",
    "--benchmark-sort=name",
)


def measured(what: Sequence[str], report: Path) -> int:
    """Run some benchmarks in a process of their own and have the figures written to a file."""
    command = [sys.executable, "-m", "pytest", *what, *ARGUMENTS, f"--benchmark-json={report}"]
    return subprocess.run(command, check=False).returncode


def table(medians_s: Mapping[str, float]) -> Iterator[str]:
    """Markdown, one row for each benchmark, the yardstick last."""
    yield "| what | median | yardsticks |"
    yield "| --- | --- | --- |"
    for name, median_s in sorted(medians_s.items(), key=lambda row: (row[0] == YARDSTICK, row[0])):
        yield f"| {words(name)} | {duration(median_s)} | {median_s / medians_s[YARDSTICK]:.3g} |"


def against(medians_s: Mapping[str, float]) -> Iterator[str]:
    """A line for each pair that was measured: how many times the one takes as long as the other."""
    for one, other in AGAINST:
        if one in medians_s and other in medians_s:
            yield f"{words(one)}: {medians_s[one] / medians_s[other]:.2f} times {words(other)}"


def words(name: str) -> str:
    """A benchmark by what it measures."""
    return name.removeprefix("test_").replace("_", " ")


def duration(seconds: float) -> str:
    """Three figures, in the unit in which they read best."""
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e6:.3g} µs"


def main() -> int:
    medians_s: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        for number, what in enumerate(RUNS):
            report = Path(folder) / f"speed-{number}.json"
            if code := measured(what, report):
                return code
            found = json.loads(report.read_text(encoding="utf-8"))["benchmarks"]
            medians_s |= {each["name"]: float(each["stats"]["median"]) for each in found}
    sys.stdout.write("\n" + "\n".join(table(medians_s)) + "\n\n" + "\n".join(against(medians_s)) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
