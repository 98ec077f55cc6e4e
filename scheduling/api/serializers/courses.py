"""Courses as they are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.models import Course, CourseNeed


class CourseNeedSerializer(serializers.ModelSerializer[CourseNeed]):
    """So many pieces of one kind of equipment."""

    class Meta:
        model = CourseNeed
        fields = ["kind", "count"]
        read_only_fields = fields


class CourseSerializer(serializers.ModelSerializer[Course]):
    """A kind of class, with those of the reader's studios that may hold it."""

    studios: Any = serializers.SlugRelatedField(many=True, read_only=True, slug_field="slug")
    glass = serializers.SlugField(source="glass.slug", read_only=True)
    needs = CourseNeedSerializer(many=True, read_only=True)
    requires: Any = serializers.SlugRelatedField(
        many=True, read_only=True, slug_field="slug", help_text="Earlier courses that it builds on."
    )

    class Meta:
        model = Course
        fields = [
            "slug",
            "name",
            "description",
            "studios",
            "minutes",
            "setup_min",
            "cleanup_min",
            "seats",
            "min_seats",
            "assistants",
            "glass",
            "shape",
            "thickness_mm",
            "foot_mm",
            "recipe",
            "pieces_per_seat",
            "glass_kg_per_seat",
            "piece_footprint_cm2",
            "price",
            "active",
            "needs",
            "requires",
        ]
        read_only_fields = fields
