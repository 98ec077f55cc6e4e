"""A studio's clock as a sheet says it hundreds of times: each is put into words once."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from scheduling.engine.clock import local
from scheduling.wording import now_said
from studios.said import Form, moment_said


class Clock:
    """Minutes in words, by the clock of one zone and in the reader's language."""

    def __init__(self, zone: ZoneInfo) -> None:
        self.zone = zone
        self._days: dict[dt.date, str] = {}
        self._whens: dict[int, str] = {}

    def when(self, minute: int) -> str:
        """A moment with its day: Tue 9 Mar, 21:00."""
        words = self._whens.get(minute)
        if words is None:
            at = local(minute, self.zone)
            words = self._whens[minute] = f"{self._day(at.date())}, {at.hour:02}:{at.minute:02}"
        return words

    def _day(self, day: dt.date) -> str:
        words = self._days.get(day)
        if words is None:
            words = self._days[day] = now_said(moment_said(day, Form.NAMED))
        return words
