"""Addresses of calendar files: by secret link, and one week of the person signed in."""

from __future__ import annotations

from django.urls import path, register_converter

from scheduling.feeds import views


class YearDigits:
    """A year of four digits."""

    regex = "[0-9]{4}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return f"{value:04d}"


class WeekDigits(YearDigits):
    """A week of two digits, as in W09."""

    regex = "[0-9]{2}"

    def to_url(self, value: int) -> str:
        return f"{value:02d}"


register_converter(YearDigits, "iso-year")
register_converter(WeekDigits, "iso-week")

urlpatterns = [
    path("week/<iso-year:year>-W<iso-week:week>.ics", views.week_file, name="week-file"),
    path("<slug:key>.ics", views.feed, name="feed"),
]
