"""What the parts of the main job share: what the fixture asks for, where it lies, and a voice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from scheduling.management.demo import bookings, loading
from scheduling.management.demo.files import Facts, read
from scheduling.management.demo.term import Term
from scheduling.management.wording import page
from studios.errors import LehrbookError


@dataclass(frozen=True, kw_only=True)
class Job:
    """The main job of the demo, in the week that its term keeps for it."""

    facts: Facts
    term: Term
    rows: bookings.Rows
    say: Callable[[str], object]

    def starts_at(self, facts: Facts, time: dt.time) -> dt.datetime:
        """The instant of a weekday and a time in that week, by the studio's clock."""
        zone = self.rows.studio(facts["studio"]).zone
        return self.term.moment(self.facts["week"], facts["weekday"], time, zone)

    def attempt(self, deed: Callable[[], str], wish: str) -> None:
        """Do it, and say what came of it: a refusal is an answer here, not a failure."""
        try:
            self.say(deed())
        except LehrbookError as error:
            self.say(f"Refused: {wish}. {error}")


def open_job(say: Callable[[str], object]) -> Job:
    """The job as the fixture and the loaded term have it."""
    return Job(facts=read("main_job"), term=loading.loaded_term(), rows=bookings.rows(), say=say)


def first_day() -> dt.date:
    """The Monday of the week that the term keeps for the main job."""
    return loading.loaded_term().day(read("main_job")["week"], "monday")


def week_sheet(address: str) -> str:
    """The page on which that week is drawn."""
    return page(address, "week", f"?week={first_day():%G-W%V}")
