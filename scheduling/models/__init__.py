"""Courses, sessions, bookings, firings, occupancies, seats, and what is told to whom."""

from scheduling.models.actuals import Actual, ActualKind, Collection, PickUp
from scheduling.models.audit import AuditEntry, Face
from scheduling.models.bookings import (
    TAKEN,
    Booking,
    BookingStatus,
    Outage,
    PersonSpan,
    Seat,
    SeatStatus,
    Series,
    Session,
)
from scheduling.models.calendars import About, BusySpan, FeedCopy, FeedForm, FeedKey, OtherCalendar
from scheduling.models.courses import Course, CourseNeed, EarlierCourse
from scheduling.models.firings import Firing, Load
from scheduling.models.kiln_jobs import JobSize, JobStep, KilnAim, KilnAnswer, KilnJob, KilnJobStatus
from scheduling.models.leases import Lease
from scheduling.models.line import IN_LINE, LineStatus, WaitingPlace
from scheduling.models.messages import Message, RepeatedRequest
from scheduling.models.occupancy import Occupancy, OccupancyPhase, PhaseKind, SupplyUse
from scheduling.models.pieces import Piece, PieceEvent, PieceState, Stand
from scheduling.models.revisions import Revision
from scheduling.models.stores import Charge, Refill, RefillStatus
from scheduling.models.ticks import Tick

__all__ = [
    "IN_LINE",
    "TAKEN",
    "About",
    "Actual",
    "ActualKind",
    "AuditEntry",
    "Booking",
    "BookingStatus",
    "BusySpan",
    "Charge",
    "Collection",
    "Course",
    "CourseNeed",
    "EarlierCourse",
    "Face",
    "FeedCopy",
    "FeedForm",
    "FeedKey",
    "Firing",
    "JobSize",
    "JobStep",
    "KilnAim",
    "KilnAnswer",
    "KilnJob",
    "KilnJobStatus",
    "Lease",
    "LineStatus",
    "Load",
    "Message",
    "Occupancy",
    "OccupancyPhase",
    "OtherCalendar",
    "Outage",
    "PersonSpan",
    "PhaseKind",
    "PickUp",
    "Piece",
    "PieceEvent",
    "PieceState",
    "Refill",
    "RefillStatus",
    "RepeatedRequest",
    "Revision",
    "Seat",
    "SeatStatus",
    "Series",
    "Session",
    "Stand",
    "SupplyUse",
    "Tick",
    "WaitingPlace",
]
