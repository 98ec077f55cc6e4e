"""Who may do what at a studio: one table. Pure."""

from __future__ import annotations

ALL = frozenset({"student", "instructor", "technician", "manager"})
STAFF = ALL - {"student"}

ACTIONS: dict[str, frozenset[str]] = {
    "see": ALL,
    "see-names": STAFF,
    "reserve": ALL,
    "reserve-for-others": frozenset({"instructor", "manager"}),
    "teach": frozenset({"instructor"}),
    "keep-other-calendars": frozenset({"instructor"}),
    "book": frozenset({"instructor", "manager"}),
    "book-for-others": frozenset({"manager"}),
    "enter-outage": frozenset({"technician", "manager"}),
    "calibrate": frozenset({"technician", "manager"}),
    "refill": frozenset({"technician", "manager"}),
    "charge": frozenset({"technician", "manager"}),
    "ask-kiln-job": ALL,
    "book-kiln-job": STAFF,
    "add-to-firing": ALL,
    "open-class-firing": frozenset({"technician", "manager"}),
    "vouch": frozenset({"instructor", "manager"}),
    "record-actual": STAFF,
    "tick": STAFF,
    "hand-out": STAFF,
    "mark-paid": frozenset({"instructor", "manager"}),
    "keep-people": frozenset({"manager"}),
    "set-up": frozenset({"manager"}),
    "set-up-equipment": frozenset({"technician", "manager"}),
    "see-outbox": frozenset({"manager"}),
    "see-audit": frozenset({"manager"}),
}
