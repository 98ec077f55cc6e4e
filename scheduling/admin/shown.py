"""Rows that are shown and not edited, and the ways from one to another."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.urls import reverse
from django.utils.html import format_html

from scheduling.models import (
    Booking,
    Charge,
    Firing,
    KilnJob,
    Load,
    Occupancy,
    OccupancyPhase,
    PersonSpan,
    Seat,
    Session,
    SupplyUse,
)


class Shown:
    """Shown and not edited; the package says why."""

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


class SessionInline(ShownInline):
    model = Session
    fields = ["starts_at", "ends_at", "seats", "status"]


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


def link(row: Session | Seat | Firing | Charge | KilnJob | None) -> str:
    """The way to a row's own page."""
    if row is None:
        return "-"
    address = reverse(f"admin:scheduling_{type(row).__name__.lower()}_change", args=[row.pk])
    return format_html('<a href="{}">{}</a>', address, row)


def holder_of(booking: Booking | None) -> Session | Seat | KilnJob | None:
    """The session, the seat in bench time, or the kiln job that a booking stands for."""
    step = getattr(booking, "job_step", None)
    return getattr(booking, "session", None) or getattr(booking, "seat", None) or (step and step.job)


def reason_of(occupancy: Occupancy) -> Session | Seat | Firing | Charge | KilnJob | None:
    """What equipment is held for; a firing leads on to its sessions by its loads."""
    return occupancy.firing or occupancy.charge or holder_of(occupancy.booking)
