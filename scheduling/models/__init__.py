"""Courses, sessions, bookings, firings, occupancies, seats, and what is told to whom."""

from scheduling.models.bookings import Booking, BookingStatus, Outage, PersonSpan, Seat, Series, Session
from scheduling.models.courses import Course, CourseNeed
from scheduling.models.firings import Firing, Load
from scheduling.models.leases import Lease
from scheduling.models.messages import FeedKey, Message, RepeatedRequest
from scheduling.models.occupancy import Occupancy, OccupancyPhase, PhaseKind, SupplyUse
from scheduling.models.revisions import Revision
from scheduling.models.stores import Charge, Refill, RefillStatus

__all__ = [
    "Booking",
    "BookingStatus",
    "Charge",
    "Course",
    "CourseNeed",
    "FeedKey",
    "Firing",
    "Lease",
    "Load",
    "Message",
    "Occupancy",
    "OccupancyPhase",
    "Outage",
    "PersonSpan",
    "PhaseKind",
    "Refill",
    "RefillStatus",
    "RepeatedRequest",
    "Revision",
    "Seat",
    "Series",
    "Session",
    "SupplyUse",
]
