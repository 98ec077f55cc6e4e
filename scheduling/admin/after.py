"""What waits for a seat, what really happened in a firing, what is ticked, where pieces lie: shown only."""

from __future__ import annotations

from django.contrib import admin

from scheduling.admin.shown import Shown, ShownInline
from scheduling.models import Actual, Collection, PickUp, Tick, WaitingPlace


@admin.register(WaitingPlace)
class WaitingPlaceAdmin(Shown, admin.ModelAdmin):
    """The waiting lines, as the services keep them."""

    list_display = ["session", "person", "status", "joined_at", "changed_at", "seat"]
    list_filter = ["session__studio", "status"]
    list_select_related = ["session__course", "person", "seat__person"]
    search_fields = ["person__name", "session__course__name"]


@admin.register(Actual)
class ActualAdmin(Shown, admin.ModelAdmin):
    """What was recorded of firings, and what of it was struck."""

    list_display = ["firing", "kind", "at", "read_c", "note", "recorded_by", "recorded_at", "struck_at"]
    list_filter = ["firing__equipment__studio", "kind"]
    list_select_related = ["firing__equipment", "recorded_by"]
    date_hierarchy = "at"
    search_fields = ["firing__equipment__name", "recorded_by__name", "note"]


@admin.register(Tick)
class TickAdmin(Shown, admin.ModelAdmin):
    """Who has seen to which duty, and what of it was taken back."""

    list_display = ["said", "studio", "due_at", "ticked_by", "ticked_at", "taken_back_at"]
    list_filter = ["studio"]
    list_select_related = ["studio", "ticked_by"]
    date_hierarchy = "due_at"
    search_fields = ["said", "ticked_by__name"]


class CollectionInline(ShownInline):
    model = Collection
    show_change_link = False


@admin.register(PickUp)
class PickUpAdmin(Shown, admin.ModelAdmin):
    """Where the pieces of a load lie, and who has collected them."""

    list_display = ["load", "shelf", "ready_at", "recorded_by"]
    list_filter = ["load__firing__equipment__studio"]
    list_select_related = ["load__glass", "recorded_by"]
    date_hierarchy = "ready_at"
    search_fields = ["shelf", "load__session__course__name", "collections__person__name"]
    inlines = [CollectionInline]
