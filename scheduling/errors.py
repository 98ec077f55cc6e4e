"""Why a request is refused: one leaf for each rule, each with a sentence that says what to do. Pure."""

from __future__ import annotations

from studios.errors import LehrbookError
from studios.said import marked


class SchedulingError(LehrbookError):
    """A booking, a reservation or a change that cannot be made."""

    code = "not-possible"


class InvalidInput(SchedulingError):
    """What was sent does not have the form that is needed."""

    code = "invalid-input"
    template = "{problem}"


class NaiveTime(SchedulingError):
    """A time means an instant only with its offset or zone."""

    code = "naive-time"
    template = marked("{value} has no time zone: add an offset, such as +00:00.")


class NoSuchWallTime(SchedulingError):
    """The clocks jump over this time when they change."""

    code = "no-such-wall-time"
    template = marked(
        "{asked} does not exist in {zone}, where the clocks jump over it; the next time is {next}."
    )


class NotAllowed(SchedulingError):
    """The person's role at the studio does not allow this."""

    code = "not-allowed"
    template = marked(
        "{who} cannot {what} at {studio}: that needs the role {role} there, which its manager gives."
    )


class NotYours(SchedulingError):
    """What belongs to one person is changed by that person alone."""

    code = "not-yours"
    template = marked("{what} belongs to somebody else.")


class NotQualified(SchedulingError):
    """An instructor books only equipment that the studio has signed them off for."""

    code = "not-qualified"
    template = marked(
        "{who} is not signed off for {kinds} at {studio}; the studio's manager records a sign-off."
    )


class NoStart(SchedulingError):
    """Nothing stands free as asked; the reasons say what is in the way, and until when."""

    code = "no-start"
    template = "{sentence}"


class SeriesSpoilt(SchedulingError):
    """A weekly class is booked for all of its weeks or for none."""

    code = "series-spoilt"
    template = "{sentence}"


class AlreadyTaken(SchedulingError):
    """Somebody else was quicker by a moment; the database refused the second booking."""

    code = "already-taken"
    template = marked("{what} has just been taken by another booking; look at what is free now.")


class NoSeatLeft(SchedulingError):
    """Every seat of the session is taken."""

    code = "no-seat-left"
    template = marked("No seat is left in {course} on {when}.")


class SeatsDoNotFit(SchedulingError):
    """A class is not moved to where it has fewer torches than seats are taken."""

    code = "seats-do-not-fit"
    template = marked(
        "{course} has {taken} seats taken and would have {torches} torches there; "
        "give seats back first, or choose another start."
    )


class SeatTaken(SchedulingError):
    """The torch or seat that was asked for is somebody else's at that time."""

    code = "seat-taken"
    template = marked("{seat} is taken {when}.")


class SeatsPromised(SchedulingError):
    """Seats that came free belong to the waiting line first."""

    code = "seats-promised"
    template = marked("What is free in {course} on {when} is promised to the waiting line; join the line.")


class NoLine(SchedulingError):
    """There is a waiting line only behind a full class, until shortly before it begins."""

    code = "no-line"
    template = marked("There is no waiting line for {course} on {when}: {why}.")


class InLineAlready(SchedulingError):
    """A person stands in a waiting line once, and not behind the own seat."""

    code = "in-line-already"
    template = marked("{who} already {has} {course} on {when}.")


class NotPriced(SchedulingError):
    """Only a booked seat that has a price is marked as paid."""

    code = "not-priced"
    template = marked("{seat} {why}.")


class KeptOver(SchedulingError):
    """A kept seat is void once its time has passed."""

    code = "no-longer-kept"
    template = marked("The seat was kept until {until} and is no longer; look whether one is still free.")


class KeptLongerOnce(SchedulingError):
    """A kept seat is kept longer once."""

    code = "kept-longer-once"
    template = marked("The seat has been kept longer once already; book it until {until}, or let it go.")


class TooManyKept(SchedulingError):
    """A person keeps only a few seats at a time."""

    code = "too-many-kept"
    template = marked("{who} keeps {count} seats already: book one of them, or let one go.")


class KeptTooOften(SchedulingError):
    """A seat is not kept again and again without being booked."""

    code = "kept-too-often"
    template = marked(
        "{who} has had a seat in this class kept {count} times within a day and booked none; "
        "the next one is booked at once or not at all."
    )


class DeadlineOver(SchedulingError):
    """After the studio's deadline a seat is given back by the studio alone."""

    code = "deadline-over"
    template = marked(
        "This seat could be given back until {until}; now only {studio} gives it back: "
        "ask an instructor or the manager."
    )


class EarlierCourseNeeded(SchedulingError):
    """A course builds on others that a student has taken before."""

    code = "earlier-course-needed"
    template = marked(
        "{course} builds on {missing}, which {who} has not taken before {when}: book that first, "
        "or ask {studio} to vouch for it."
    )


class SafetyUnread(SchedulingError):
    """Who works at a studio has read its safety text in this term."""

    code = "safety-unread"
    template = marked(
        "Read the safety text of {studio}, version {version}, and say that you have; it is asked once a term."
    )


class PersonBusy(SchedulingError):
    """A person is in one place at a time."""

    code = "person-busy"
    template = marked("{who} already has {what} from {start} to {end}{way}.")


class Over(SchedulingError):
    """What has begun or is called off can no longer be changed this way."""

    code = "over"
    template = marked("{what} {why}.")


class NoBenchTime(SchedulingError):
    """Torches are reserved without a class in open bench time only."""

    code = "no-bench-time"
    template = marked("{studio} has no open bench time from {start} to {end}.{hint}")


class NoRecord(SchedulingError):
    """Equipment is calibrated from the record it has: what it draws is in no log."""

    code = "no-record"
    template = marked(
        "{equipment} has no thermal record yet; enter one in the set-up, with its full power, "
        "before a log is fitted."
    )


class DayHasRecord(SchedulingError):
    """Equipment has one record from a day on."""

    code = "day-has-record"
    template = marked(
        "{equipment} already has a record from {day}; choose another day, "
        "or take that one back in the set-up."
    )


class NotConfirmed(SchedulingError):
    """A record that says 'open' early, or that the log cannot check, is accepted only knowingly."""

    code = "not-confirmed"
    template = marked("{warning} Say that you accept it although this is so, or choose the other fit.")


class InUse(SchedulingError):
    """What something else leans on is not taken away from under it."""

    code = "in-use"
    template = marked("{what} is held by {by}. {instead}")


class NoPot(SchedulingError):
    """Only a furnace whose pot is entered can be charged."""

    code = "no-pot"
    template = marked(
        "{equipment} has no pot; enter one in the set-up, with what it holds and how it is charged."
    )


class ChargeNeeded(SchedulingError):
    """What is booked must find its glass in the pot."""

    code = "charge-needed"
    template = marked(
        "{furnace} would fall below its floor{until}: {course}, until {when}, needs the glass. "
        "Book a charge before it, or call the class off."
    )


class RequestRunning(SchedulingError):
    """The first request with this Idempotency-Key is still being carried out."""

    code = "request-running"
    template = marked("The first request with this Idempotency-Key is still running; ask again in a moment.")


class KeyReused(SchedulingError):
    """An Idempotency-Key names one request only."""

    code = "idempotency-key-reused"
    template = marked("This Idempotency-Key was used for a different request; use a new key.")


class OutOfOrder(SchedulingError):
    """What is recorded of a firing follows one thing after another, as it can have happened."""

    code = "out-of-order"
    template = marked("{what}: {why}.")


class PlanGone(SchedulingError):
    """A plan for a kiln job is booked whole, as it was found, or not at all."""

    code = "plan-gone"
    template = marked("This plan can no longer be booked as it was found: {why} Seek a fresh answer.")


class NoShelfSpace(SchedulingError):
    """Pieces are added to a firing that has room for them and is open to others; `reason` says which rule."""

    code = "no-shelf-space"
    template = marked("The {firing} does not take these pieces: {why}.")


class UnfitArchive(SchedulingError):
    """A backup is written whole and restored whole, by the version that made it."""

    code = "unfit-archive"
    template = "{problem}"


class TooManyCalendars(SchedulingError):
    """A person has a few other calendars read, and no more."""

    code = "too-many-calendars"
    template = marked("{who} has {count} other calendars here already: take one away first.")


class UnreadableCalendar(SchedulingError):
    """Another calendar is read whole or not at all."""

    code = "unreadable-calendar"
    template = marked("Line {line}: {reason}")


class UnfetchableCalendar(SchedulingError):
    """A link to another calendar that gives none; the last good copy is kept."""

    code = "unfetchable-calendar"
    template = marked("The calendar cannot be fetched: {reason}.")
