"""Safety texts, who has read them, and earlier courses: what is sent, and how they are shown."""

from __future__ import annotations

from rest_framework import serializers

from scheduling.api.fields import DayField, SlugField, UidField, VersionField
from scheduling.api.serializers.people import PersonLineSerializer
from scheduling.api.strict import Strict
from scheduling.models import EarlierCourse
from scheduling.selectors import visible
from studios.models import Acknowledgement, SafetyText
from studios.selectors import studios_of


class SafetyTextSerializer(serializers.ModelSerializer[SafetyText]):
    """What a studio wants read before somebody works there."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)

    class Meta:
        model = SafetyText
        fields = ["studio", "version", "body", "since"]
        read_only_fields = fields


class Acknowledge(Strict):
    """You have read a studio's safety text; it counts for the term of the day."""

    studio = SlugField(among=studios_of, what="studio")
    version = VersionField(help_text="Which version you have read.")
    on_day = DayField(help_text="A day on which you work there, by the studio's calendar.")


class AcknowledgementSerializer(serializers.ModelSerializer[Acknowledgement]):
    """A version that you have read, and for which days."""

    studio = serializers.SlugField(source="text.studio.slug", read_only=True)
    version = serializers.IntegerField(source="text.version", read_only=True)

    class Meta:
        model = Acknowledgement
        fields = ["studio", "version", "first_day", "last_day", "acknowledged_at"]
        read_only_fields = fields


class Vouch(Strict):
    """Somebody has taken a course before, here or elsewhere."""

    studio = SlugField(among=studios_of, what="studio")
    person = UidField(among=visible.fellows_of, what="person")
    course = SlugField(among=visible.courses_of, what="course")


class EarlierCourseSerializer(serializers.ModelSerializer[EarlierCourse]):
    """A course for which somebody of a studio has vouched."""

    person = PersonLineSerializer(read_only=True)
    course = serializers.SlugField(source="course.slug", read_only=True)
    recorded_by = PersonLineSerializer(read_only=True)

    class Meta:
        model = EarlierCourse
        fields = ["person", "course", "recorded_by", "recorded_at"]
        read_only_fields = fields
