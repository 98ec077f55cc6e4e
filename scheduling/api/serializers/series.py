"""Weekly classes: what is sent, and how they are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.fields import DayField, SlugField, UidField, WallClockField
from scheduling.api.serializers.people import PersonLineSerializer
from scheduling.api.strict import Strict
from scheduling.models import Series, Session
from scheduling.selectors import visible
from scheduling.services.series import MOST_WEEKS
from studios.selectors import studios_of


class BookSeries(Strict):
    """A weekly class to book: on all of its days, or on none."""

    course = SlugField(among=visible.courses_of, what="course")
    studio = SlugField(among=studios_of, what="studio")
    days = serializers.ListField(
        child=DayField(),
        min_length=1,
        max_length=MOST_WEEKS,
        help_text="Whole weeks apart, as `weekly-times` gives them.",
    )
    time = WallClockField(help_text="By the studio's clock, on every day.")
    instructor = UidField(
        among=visible.instructors_of, what="instructor", required=False, help_text="Left out: yourself."
    )


class MeetingSerializer(serializers.ModelSerializer[Session]):
    """One meeting of a weekly class; its session says what it holds."""

    class Meta:
        model = Session
        fields = ["uid", "starts_at", "ends_at", "status"]
        read_only_fields = fields


class SeriesSerializer(serializers.ModelSerializer[Series]):
    """A weekly class with its meetings, those called off as well."""

    course = serializers.SlugField(source="course.slug", read_only=True)
    name = serializers.CharField(source="course.name", read_only=True)
    studio = serializers.SlugField(source="studio.slug", read_only=True)
    time_zone = serializers.CharField(source="studio.time_zone", read_only=True)
    instructor = PersonLineSerializer(read_only=True)
    time = WallClockField(read_only=True)
    meetings = MeetingSerializer(source="sessions", many=True, read_only=True)

    class Meta:
        model = Series
        fields: list[Any] = [
            "uid",
            "course",
            "name",
            "studio",
            "time_zone",
            "instructor",
            "first_day",
            "time",
            "meetings",
        ]
        read_only_fields = fields
