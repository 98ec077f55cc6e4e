"""Kiln jobs, the answers sought for them, and pieces with what happened to them: shown only."""

from __future__ import annotations

from django.contrib import admin

from scheduling.admin.shown import Shown, ShownInline
from scheduling.models import JobSize, JobStep, KilnAnswer, KilnJob, Piece, PieceEvent, Stand


class JobSizeInline(ShownInline):
    model = JobSize
    show_change_link = False


class JobStepInline(ShownInline):
    model = JobStep
    show_change_link = False


@admin.register(KilnJob)
class KilnJobAdmin(Shown, admin.ModelAdmin):
    """A kiln job with its sizes and its handwork; asked for, booked and called off by its services."""

    list_display = ["title", "owner", "glass", "thickness_mm", "route", "arrives_at", "ready_at", "status"]
    list_filter = ["studios", "status", "route"]
    list_select_related = ["owner", "glass"]
    date_hierarchy = "arrives_at"
    search_fields = ["title", "owner__name", "uid"]
    inlines = [JobSizeInline, JobStepInline]


@admin.register(KilnAnswer)
class KilnAnswerAdmin(Shown, admin.ModelAdmin):
    """What was sought for a kiln job, and what came of it."""

    list_display = ["job", "aim", "asked_by", "started_at", "alive_at", "ended_at", "ready_at", "proven"]
    list_filter = ["aim"]
    list_select_related = ["job", "asked_by"]
    date_hierarchy = "started_at"
    search_fields = ["job__title", "asked_by__name"]


class PieceEventInline(ShownInline):
    model = PieceEvent
    show_change_link = False


class StandInline(ShownInline):
    model = Stand
    show_change_link = False


@admin.register(Piece)
class PieceAdmin(Shown, admin.ModelAdmin):
    """A piece, where it stands in its firings, and what happened to it."""

    list_display = ["label", "number", "job", "session", "maker", "maker_name", "state", "place", "signed_by"]
    list_filter = ["state"]
    list_select_related = ["job", "session__course", "maker"]
    search_fields = ["label", "maker__name", "maker_name", "job__title"]
    inlines = [StandInline, PieceEventInline]
