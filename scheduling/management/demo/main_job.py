"""The main job, done on the demo through the services and told as it goes.

A second run finds what stands already and books nothing twice.
"""

from __future__ import annotations

from collections.abc import Callable

from scheduling.management.demo.calendar_file import export_week
from scheduling.management.demo.classes import contend, two_classes
from scheduling.management.demo.fair_told import tell_the_fair
from scheduling.management.demo.job import open_job, week_sheet
from scheduling.management.demo.torches import fill_bench, fill_class


def do_main_job(say: Callable[[str], object], address: str) -> None:
    """Two classes, a contended annealer, torch seats, a calendar file, a fair's dishes and a page."""
    job = open_job(say)
    _heading(say, "1. Two classes of one instructor in one week")
    *_, beads = two_classes(job)
    _heading(say, "2. The same annealer, the same night")
    contend(job, beads)
    _heading(say, "3. Torches")
    fill_class(job, beads)
    fill_bench(job)
    _heading(say, "4. The instructor's week as a calendar file")
    export_week(job)
    _heading(say, "5. Forty dishes from a harvest fair, fused, then slumped")
    tell_the_fair(job)
    _heading(say, "6. The week sheet")
    say(week_sheet(address))


def _heading(say: Callable[[str], object], text: str) -> None:
    say(f"\n{text}\n{'-' * len(text)}")
