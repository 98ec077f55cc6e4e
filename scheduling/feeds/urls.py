"""Addresses of calendar files: by secret link, and a week, a month, a term or one event to keep."""

from __future__ import annotations

from django.urls import path, register_converter

from scheduling.feeds import views
from scheduling.models import FeedForm


class YearDigits:
    """A year of four digits."""

    regex = "[0-9]{4}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return f"{value:04d}"


class WeekDigits(YearDigits):
    """A week, or a month, of two digits, as in W09."""

    regex = "[0-9]{2}"

    def to_url(self, value: int) -> str:
        return f"{value:02d}"


class Form:
    """How a calendar is written."""

    regex = "|".join(FeedForm.values)

    def to_python(self, value: str) -> FeedForm:
        return FeedForm(value)

    def to_url(self, value: str) -> str:
        return value


register_converter(YearDigits, "iso-year")
register_converter(WeekDigits, "iso-week")
register_converter(Form, "feed-form")

urlpatterns = [
    path("week/<iso-year:year>-W<iso-week:week>.ics", views.week_file, name="week-file"),
    path("month/<iso-year:year>-<iso-week:month>.ics", views.month_file, name="month-file"),
    path("term/<slug:studio>/<int:number>.ics", views.term_file, name="term-file"),
    path("seat/<uuid:uid>.ics", views.seat_file, name="seat-file"),
    path("class/<uuid:uid>.ics", views.class_file, name="class-file"),
    path("<slug:key>.ics", views.feed, {"form": FeedForm.ICALENDAR}, name="feed"),
    path("<slug:key>.<feed-form:form>", views.feed, name="feed-form"),
]
