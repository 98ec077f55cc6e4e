"""What follows from sessions and seats: shown, with the way to the session or the seat."""

from __future__ import annotations

from django.contrib import admin
from django.db.models import Count, QuerySet
from django.http import HttpRequest

from scheduling.admin.shown import (
    LoadInline,
    OccupancyInline,
    PhaseInline,
    SessionInline,
    Shown,
    SupplyUseInline,
    holder_of,
    link,
    reason_of,
)
from scheduling.models import (
    AuditEntry,
    Booking,
    BookingStatus,
    BusySpan,
    Charge,
    FeedCopy,
    Firing,
    Lease,
    Load,
    Message,
    Occupancy,
    OccupancyPhase,
    OtherCalendar,
    PersonSpan,
    Refill,
    RepeatedRequest,
    Revision,
    Series,
    SupplyUse,
)


@admin.register(Booking)
class BookingAdmin(Shown, admin.ModelAdmin):
    """A booking with what it holds."""

    list_display = ["uid", "stands_for", "studio", "booked_by", "status", "created_at", "cancelled_at"]
    list_filter = ["studio", "status"]
    list_select_related = ["studio", "booked_by", "session__course", "seat__person"]
    search_fields = ["uid", "booked_by__name"]
    readonly_fields = ["stands_for"]
    inlines = [OccupancyInline]

    @admin.display(description="for")
    def stands_for(self, booking: Booking) -> str:
        return link(holder_of(booking))


@admin.register(Series)
class SeriesAdmin(Shown, admin.ModelAdmin):
    """A weekly class with its meetings."""

    list_display = ["course", "studio", "instructor", "first_day", "time", "booked_by", "created_at"]
    list_filter = ["studio", "course"]
    list_select_related = ["course", "studio", "instructor", "booked_by"]
    date_hierarchy = "first_day"
    search_fields = ["course__name", "instructor__name", "uid"]
    inlines = [SessionInline]


@admin.register(Firing)
class FiringAdmin(Shown, admin.ModelAdmin):
    """A firing with its loads, each with its session, and its occupancy."""

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


@admin.register(Charge)
class ChargeAdmin(Shown, admin.ModelAdmin):
    """A charge of a furnace, or a level as measured; entered by whoever charges, not here."""

    list_display = ["furnace", "measured", "starts_at", "ends_at", "level_after_kg", "booked_by", "status"]
    list_filter = ["furnace__studio", "status"]
    list_select_related = ["furnace", "booked_by"]
    date_hierarchy = "starts_at"
    search_fields = ["furnace__name", "uid"]
    inlines = [OccupancyInline]

    def get_queryset(self, request: HttpRequest) -> QuerySet[Charge]:
        return super().get_queryset(request).annotate(places=Count("occupancies"))

    @admin.display(boolean=True)
    def measured(self, charge: Charge) -> bool:
        """A level that was measured takes no place."""
        return charge.status == BookingStatus.BOOKED and not getattr(charge, "places", 0)


@admin.register(Refill)
class RefillAdmin(Shown, admin.ModelAdmin):
    """A delivery or change-over of a supply; recorded by whoever looks after it, not here."""

    list_display = ["supply", "at", "content_after", "status", "recorded_by", "booking"]
    list_filter = ["supply__studio", "status"]
    list_select_related = ["supply", "recorded_by", "booking"]
    date_hierarchy = "at"
    search_fields = ["supply__name", "uid"]


@admin.register(Load)
class LoadAdmin(Shown, admin.ModelAdmin):
    """A load."""

    list_display = ["firing", "session", "job", "owner", "glass", "thickness_mm", "pieces", "footprint_cm2"]
    list_select_related = ["firing__equipment", "session__course", "job", "owner", "glass"]


@admin.register(Occupancy)
class OccupancyAdmin(Shown, admin.ModelAdmin):
    """An occupancy with its phases and its draws."""

    list_display = [
        "equipment",
        "place",
        "held_for",
        "starts_at",
        "ends_at",
        "exclusive_from",
        "exclusive_to",
    ]
    list_filter = ["equipment__studio", "equipment__kind"]
    list_select_related = [
        "equipment",
        "firing__equipment",
        "charge__furnace",
        "booking__session__course",
        "booking__seat__person",
        "booking__job_step__job",
    ]
    date_hierarchy = "starts_at"
    readonly_fields = ["held_for"]
    inlines = [PhaseInline, SupplyUseInline]

    @admin.display(description="for")
    def held_for(self, occupancy: Occupancy) -> str:
        return link(reason_of(occupancy))


class PartOfOccupancy(Shown, admin.ModelAdmin):
    """A part of an occupancy, with what the equipment is held for."""

    list_select_related = [
        "occupancy__equipment",
        "occupancy__firing__equipment",
        "occupancy__charge__furnace",
        "occupancy__booking__session__course",
        "occupancy__booking__seat__person",
        "occupancy__booking__job_step__job",
    ]
    readonly_fields = ["held_for"]

    @admin.display(description="for")
    def held_for(self, part: OccupancyPhase | SupplyUse) -> str:
        return link(reason_of(part.occupancy))


@admin.register(OccupancyPhase)
class OccupancyPhaseAdmin(PartOfOccupancy):
    """A phase."""

    list_display = [
        "occupancy",
        "held_for",
        "kind",
        "starts_at",
        "ends_at",
        "from_c",
        "to_c",
        "toward_c",
        "tau_min",
    ]
    list_filter = ["kind"]


@admin.register(SupplyUse)
class SupplyUseAdmin(PartOfOccupancy):
    """A draw on a supply."""

    list_display = ["supply", "occupancy", "held_for", "starts_at", "ends_at", "amount"]
    list_filter = ["supply"]
    list_select_related = ["supply", *PartOfOccupancy.list_select_related]


@admin.register(PersonSpan)
class PersonSpanAdmin(Shown, admin.ModelAdmin):
    """Hours that a person has given."""

    list_display = ["person", "studio", "session", "seat", "starts_at", "ends_at"]
    list_filter = ["studio"]
    list_select_related = ["person", "studio", "session__course", "seat__person"]
    search_fields = ["person__name"]


@admin.register(FeedCopy)
class FeedCopyAdmin(Shown, admin.ModelAdmin):
    """When calendars were written last; what stands in them is for whoever has the link."""

    list_display = ["feed_key", "form", "count", "changed_at", "good_until"]
    list_select_related = ["feed_key__person"]
    exclude = ["content"]


@admin.register(OtherCalendar)
class OtherCalendarAdmin(Shown, admin.ModelAdmin):
    """Calendars that people keep elsewhere; the link is a secret, and what stands in it is theirs alone."""

    list_display = ["label", "person", "read_at", "next_try_at", "failures", "problem"]
    list_select_related = ["person"]
    search_fields = ["person__name"]
    exclude = ["link", "content"]


@admin.register(BusySpan)
class BusySpanAdmin(Shown, admin.ModelAdmin):
    """Hours that another calendar says are taken."""

    list_display = ["person", "calendar", "starts_at", "ends_at"]
    list_select_related = ["person", "calendar__person"]
    search_fields = ["person__name"]


@admin.register(Message)
class MessageAdmin(Shown, admin.ModelAdmin):
    """What is told to whom, and whether it went out; what it says stays hidden: it may hold a secret link."""

    list_display = [
        "subject",
        "person",
        "method",
        "created_at",
        "sent_at",
        "tries",
        "next_try_at",
        "last_error",
    ]
    list_filter = [("sent_at", admin.EmptyFieldListFilter), "method"]
    list_select_related = ["person"]
    search_fields = ["subject", "person__name"]
    exclude = ["body", "invitation"]


@admin.register(AuditEntry)
class AuditEntryAdmin(Shown, admin.ModelAdmin):
    """Who did what; the database refuses to change it."""

    list_display = ["at", "studio", "actor", "face", "did", "kind", "said"]
    list_filter = ["studio", "face", "kind", "did"]
    list_select_related = ["studio", "actor"]
    date_hierarchy = "at"
    search_fields = ["actor__name", "said", "subject"]


@admin.register(Lease)
class LeaseAdmin(Shown, admin.ModelAdmin):
    """Whose turn periodic work is, when it was begun the last time, and what went wrong."""

    list_display = ["name", "holder", "begun_at", "ended_at", "until", "last_error"]


@admin.register(RepeatedRequest)
class RepeatedRequestAdmin(Shown, admin.ModelAdmin):
    """Requests that may be repeated; the kept answers stay hidden, a secret link may stand in one."""

    list_display = ["key", "person", "status_code", "created_at"]
    list_select_related = ["person"]
    exclude = ["body"]


@admin.register(Revision)
class RevisionAdmin(Shown, admin.ModelAdmin):
    """How often what the engine reads has changed; the database counts."""

    list_display = ["kind", "key", "number"]
    list_filter = ["kind"]
