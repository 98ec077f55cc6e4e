"""Courses, outages and what is booked in Django's admin.

Sessions, seats, firings and all that they hold are shown here and not edited: they are written by the
services alone, which lock what a change touches, check it with the engine and recompute the heat that
neighbours lend each other. A row edited by hand would leave spans, curves and draws that belong to nothing.
What the services decide from (hours, equipment, courses, outages) is edited freely.
"""

from __future__ import annotations

from typing import Any

from django.contrib import admin, messages
from django.db.models import QuerySet
from django.forms import ModelForm
from django.http import HttpRequest
from rest_framework.authtoken.models import TokenProxy

from scheduling.models import (
    Booking,
    Course,
    CourseNeed,
    FeedKey,
    Firing,
    Load,
    Message,
    Occupancy,
    OccupancyPhase,
    Outage,
    PersonSpan,
    RepeatedRequest,
    Seat,
    Session,
    SupplyUse,
)
from scheduling.services.calendars import withdraw_feed_key
from scheduling.services.transactions import lock
from studios.errors import LehrbookError

# Its pages show each token in full; a person withdraws the own one, and a deactivated person's is void.
admin.site.unregister(TokenProxy)


class CourseNeedInline(admin.TabularInline):
    model = CourseNeed
    extra = 0


@admin.register(Course)
class CourseAdmin(admin.ModelAdmin):
    """A course with what it needs; sessions that are booked keep what they hold."""

    list_display = ["name", "minutes", "seats", "glass", "thickness_mm", "recipe", "active"]
    list_filter = ["studios", "recipe", "active"]
    list_select_related = ["glass"]
    search_fields = ["name", "slug"]
    prepopulated_fields = {"slug": ["name"]}
    filter_horizontal = ["studios"]
    inlines = [CourseNeedInline]


@admin.register(Outage)
class OutageAdmin(admin.ModelAdmin):
    """Hours in which equipment is out of use."""

    list_display = ["equipment", "starts_at", "ends_at", "reason", "entered_by"]
    list_filter = ["equipment__studio"]
    list_select_related = ["equipment", "entered_by"]
    date_hierarchy = "starts_at"
    search_fields = ["equipment__name", "reason"]
    autocomplete_fields = ["equipment"]
    readonly_fields = ["entered_by"]

    def save_model(self, request: HttpRequest, obj: Outage, form: ModelForm, change: bool) -> None:  # noqa: FBT001 - Django's signature
        """Under the same lock as a booking, so that neither misses the other."""
        before = form.initial.get("equipment") if change else None
        lock(equipment={obj.equipment_id, *([before] if before else [])})
        if not change:
            obj.entered_by = request.user  # type: ignore[assignment]  # the admin lets in nobody else
        super().save_model(request, obj, form, change)


class Shown:
    """Shown and not edited; see the top of this module."""

    def has_add_permission(self, *_request: Any) -> bool:
        return False

    def has_change_permission(self, *_request: Any) -> bool:
        return False

    def has_delete_permission(self, *_request: Any) -> bool:
        return False


class ShownInline(Shown, admin.TabularInline):
    """Rows of something shown."""

    extra = 0
    show_change_link = True


class OccupancyInline(ShownInline):
    model = Occupancy


class LoadInline(ShownInline):
    model = Load


class SeatInline(ShownInline):
    model = Seat
    fields = ["number", "person", "torch", "status"]


class PersonSpanInline(ShownInline):
    model = PersonSpan


class PhaseInline(ShownInline):
    model = OccupancyPhase
    show_change_link = False


class SupplyUseInline(ShownInline):
    model = SupplyUse
    show_change_link = False


@admin.register(Session)
class SessionAdmin(Shown, admin.ModelAdmin):
    """A session with its seats and its firings' loads."""

    list_display = ["course", "studio", "instructor", "starts_at", "ends_at", "seats", "status"]
    list_filter = ["studio", "course", "status"]
    list_select_related = ["course", "studio", "instructor"]
    date_hierarchy = "starts_at"
    search_fields = ["course__name", "instructor__name", "uid"]
    inlines = [SeatInline, LoadInline, PersonSpanInline]


@admin.register(Booking)
class BookingAdmin(Shown, admin.ModelAdmin):
    """A booking with what it holds."""

    list_display = ["uid", "studio", "booked_by", "status", "created_at", "cancelled_at"]
    list_filter = ["studio", "status"]
    list_select_related = ["studio", "booked_by"]
    search_fields = ["uid", "booked_by__name"]
    inlines = [OccupancyInline]


@admin.register(Seat)
class SeatAdmin(Shown, admin.ModelAdmin):
    """A seat."""

    list_display = ["person", "studio", "session", "torch", "number", "starts_at", "ends_at", "status"]
    list_filter = ["studio", "status"]
    list_select_related = ["person", "studio", "session__course", "torch"]
    date_hierarchy = "starts_at"
    search_fields = ["person__name", "uid"]


@admin.register(Firing)
class FiringAdmin(Shown, admin.ModelAdmin):
    """A firing with its loads and its occupancy."""

    list_display = [
        "equipment",
        "recipe",
        "hold_c",
        "at_hold_at",
        "last_in_at",
        "cool_at",
        "unload_at",
        "status",
    ]
    list_filter = ["equipment__studio", "recipe", "status"]
    list_select_related = ["equipment"]
    date_hierarchy = "at_hold_at"
    search_fields = ["equipment__name", "uid"]
    inlines = [LoadInline, OccupancyInline]


@admin.register(Load)
class LoadAdmin(Shown, admin.ModelAdmin):
    """A load."""

    list_display = ["firing", "session", "owner", "glass", "thickness_mm", "pieces", "footprint_cm2"]
    list_select_related = ["firing__equipment", "session__course", "owner", "glass"]


@admin.register(Occupancy)
class OccupancyAdmin(Shown, admin.ModelAdmin):
    """An occupancy with its phases and its draws."""

    list_display = ["equipment", "place", "starts_at", "ends_at", "exclusive_from", "exclusive_to"]
    list_filter = ["equipment__studio", "equipment__kind"]
    list_select_related = ["equipment"]
    date_hierarchy = "starts_at"
    inlines = [PhaseInline, SupplyUseInline]


@admin.register(PersonSpan)
class PersonSpanAdmin(Shown, admin.ModelAdmin):
    """Hours that a person has given."""

    list_display = ["person", "studio", "session", "seat", "starts_at", "ends_at"]
    list_filter = ["studio"]
    list_select_related = ["person", "studio", "session__course", "seat__person"]
    search_fields = ["person__name"]


@admin.register(OccupancyPhase)
class OccupancyPhaseAdmin(Shown, admin.ModelAdmin):
    """A phase."""

    list_display = ["occupancy", "kind", "starts_at", "ends_at", "from_c", "to_c", "toward_c", "tau_min"]
    list_filter = ["kind"]
    list_select_related = ["occupancy__equipment"]


@admin.register(SupplyUse)
class SupplyUseAdmin(Shown, admin.ModelAdmin):
    """A draw on a supply."""

    list_display = ["supply", "occupancy", "starts_at", "ends_at", "amount"]
    list_filter = ["supply"]
    list_select_related = ["supply", "occupancy__equipment"]


@admin.register(Message)
class MessageAdmin(Shown, admin.ModelAdmin):
    """What is told to whom, and whether it went out."""

    list_display = ["subject", "person", "created_at", "sent_at", "tries", "next_try_at", "last_error"]
    list_filter = [("sent_at", admin.EmptyFieldListFilter)]
    list_select_related = ["person"]
    search_fields = ["subject", "person__name"]


@admin.register(RepeatedRequest)
class RepeatedRequestAdmin(Shown, admin.ModelAdmin):
    """Requests that may be repeated; the kept answers stay hidden, a secret link may stand in one."""

    list_display = ["key", "person", "status_code", "created_at"]
    list_select_related = ["person"]
    exclude = ["body"]


@admin.register(FeedKey)
class FeedKeyAdmin(admin.ModelAdmin):
    """Calendar links, each by its name: the secret itself is shown to its owner alone."""

    list_display = ["label", "person", "created_at", "last_used_on", "revoked_at"]
    list_select_related = ["person"]
    search_fields = ["label", "person__name"]
    fields = ["label", "person", "created_at", "last_used_on", "revoked_at"]
    readonly_fields = ["person", "created_at", "last_used_on", "revoked_at"]
    actions = ["withdraw"]

    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002 - Django's signature
        """A person makes the own links."""
        return False

    @admin.action(description="Withdraw the selected links", permissions=["change"])
    def withdraw(self, request: HttpRequest, queryset: QuerySet[FeedKey]) -> None:
        """From now on they show nothing."""
        for feed_key in queryset:
            try:
                withdraw_feed_key(actor=request.user, feed_key=feed_key)  # type: ignore[arg-type]  # signed in
            except LehrbookError as error:
                messages.error(request, str(error))
