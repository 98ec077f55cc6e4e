"""The harvest fair as the main job tells it."""

from __future__ import annotations

from scheduling.management.demo.files import read
from scheduling.management.demo.job import Job
from scheduling.management.kiln_jobs import booked_lines
from scheduling.management.wording import day_time
from scheduling.models import KilnJob, KilnJobStatus


def tell_the_fair(job: Job) -> None:
    """The fair's firings in order of time, what is done by hand for them, and from when all can be had."""
    facts = read("fair")
    asked = KilnJob.objects.filter(title=facts["title"], status=KilnJobStatus.BOOKED).first()
    if asked is None:
        job.say("It is not booked any more.")
        return
    zone = job.rows.studio(facts["studio"]).zone
    job.say(f"{asked.pieces.count()} pieces reach the studio {day_time(asked.arrives_at, zone)}.")
    for line in booked_lines(asked):
        job.say(line)
