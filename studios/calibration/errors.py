"""What calibration refuses, each with a sentence a technician can act on."""

from __future__ import annotations

from studios.errors import LehrbookError
from studios.said import marked


class CalibrationError(LehrbookError):
    code = "calibration"
    template = marked("No record can be drawn from this log.")


class LogError(CalibrationError):
    code = "log"
    template = marked("This log cannot be read.")


class EmptyLog(LogError):
    code = "empty-log"
    template = marked(
        "The log is empty. Export it again from the controller or logger, as CSV: time, temperature."
    )


class LogTooLarge(LogError):
    code = "log-too-large"
    template = marked("A log may have at most {limit} {what}; this one has more. Export fewer days.")


class NotALog(LogError):
    code = "not-a-log"
    template = marked(
        "Line {line} is not text that a logger writes. Export the log as CSV (text), not as a workbook "
        "or a picture."
    )


class NoTable(LogError):
    code = "no-table"
    template = marked(
        "Line {line} (“{text}”) has no time and temperature side by side. Give two columns, time and "
        "temperature, divided by commas, semicolons or tabs."
    )


class NoTimeColumn(LogError):
    code = "no-time-column"
    template = marked("No column of the log is a time. Its header says: {header}. Name one “time”.")


class NoTemperatureColumn(LogError):
    code = "no-temperature-column"
    template = marked(
        "No column of the log is a temperature. Its header says: {header}. Name one “temperature”."
    )


class UnreadableTimes(LogError):
    code = "unreadable-times"
    template = marked(
        "Line {line}: “{text}” is no time that can be read. Use 2024-05-03 18:00, 18:00:00, or a number "
        "of seconds, minutes or hours from the start."
    )


class TimeUnitUnknown(LogError):
    code = "time-unit-unknown"
    template = marked(
        "Line {line}: the time “{text}” is a bare number. Say whether it counts seconds, minutes or hours."
    )


class AmbiguousDate(LogError):
    code = "ambiguous-date"
    template = marked(
        "Line {line}: “{text}” may be two dates. Say whether the day or the month comes first, "
        "or export dates as year-month-day."
    )


class TimeOutOfRange(LogError):
    code = "time-out-of-range"
    template = marked(
        "Line {line}: the time “{text}” is more than {limit_days} days from the rest of the log. Correct it."
    )


class TemperatureUnitUnknown(LogError):
    code = "temperature-unit-unknown"
    template = marked("The log does not say whether it is in °C or °F. Say which.")


class TemperatureUnitsDisagree(LogError):
    code = "temperature-units-disagree"
    template = marked("You said °{asked} and line {line} of the log says °{named}. Choose what the log says.")


class TooFewReadings(LogError):
    code = "too-few-readings"
    template = marked(
        "Usable readings in this log: {count}; a fit needs at least {least}. "
        "Log more often, at least every five minutes."
    )


class NoTimePasses(LogError):
    code = "no-time-passes"
    template = marked("All readings of the log carry the same time. Export it with the time of each reading.")


class FitError(CalibrationError):
    code = "fit"
    template = marked("No fit holds for this log.")


class StretchNotInLog(FitError):
    code = "stretch-not-in-log"
    template = marked(
        "Minutes {from_min:g} to {to_min:g} are no stretch of this log, "
        "which runs from minute 0 to {ends_min:g}."
    )


class NothingToFit(FitError):
    code = "nothing-to-fit"
    template = marked(
        "This log has neither a stretch of cooling with the heating off nor one of heating at full power. "
        "Log a cooling from hot with the door shut, and mark it."
    )


class TooShort(FitError):
    code = "too-short"
    template = marked(
        "The {kind} from minute {from_min:.0f} to {to_min:.0f} is too short: {readings} readings, from "
        "{from_c:.0f} to {to_c:.0f} °C. It must have at least {least_readings} readings and go "
        "{least_share:.0%} of the way to {toward}. Log for longer."
    )


class ControlledCooling(FitError):
    code = "controlled-cooling"
    template = marked(
        "From minute {from_min:.0f} to {to_min:.0f} the temperature falls in a straight line "
        "({rate_c_per_h:.0f} °C/h): the controller was still heating. "
        "Log on until the kiln has cooled by itself with the heating off."
    )


class NotCooling(FitError):
    code = "not-cooling"
    template = marked(
        "From minute {from_min:.0f} to {to_min:.0f} the temperature does not fall throughout: "
        "at minute {at_min:.0f} it rises by {rise_k:.0f} K. Mark only the time with the heating off."
    )


class NotHeating(FitError):
    code = "not-heating"
    template = marked(
        "From minute {from_min:.0f} to {to_min:.0f} the temperature does not rise throughout: "
        "at minute {at_min:.0f} it falls by {fall_k:.0f} K. Mark only the time at full power."
    )


class StraightHeating(FitError):
    code = "straight-heating"
    template = marked(
        "From minute {from_min:.0f} to {to_min:.0f} the temperature rises in a straight line "
        "({rate_c_per_h:.0f} °C/h): a ramp held by the controller tells no ceiling. "
        "Log a heating at full power until it slows down."
    )


class NotFullPower(FitError):
    code = "not-full-power"
    template = marked(
        "The heating from minute {from_min:.0f} to {to_min:.0f} is not one stretch at full power: the best "
        "curve misses it by {rms_k:.1f} K. Mark only the time at full power, without ramps and holds."
    )


class DoorOpened(FitError):
    code = "door-opened"
    template = marked(
        "At minute {at_min:.0f} ({at_c:.0f} °C) the cooling suddenly becomes {times:.1f} times as fast: the "
        "door, a vent or a lid was opened. Mark only the time before it, or log again with the door shut."
    )


class TooNoisy(FitError):
    code = "too-noisy"
    template = marked(
        "From one reading to the next the log jumps by about {noise_k:.0f} K; at most {limit_k:g} K can be "
        "fitted. Check the thermocouple and its leads."
    )


class NoConvergence(FitError):
    code = "no-convergence"
    template = marked(
        "No time constant between {low_h:g} and {high_h:g} hours fits the {kind} from minute {from_min:.0f} "
        "to {to_min:.0f}. Check the stretch, the ambient temperature and the unit of time."
    )


class TimeConstantsDisagree(FitError):
    code = "time-constants-disagree"
    template = marked(
        "The heating from minute {from_min:.0f} to {to_min:.0f} by itself gives a time constant of "
        "{heating_h:.1f} h, the cooling {cooling_h:.1f} h: it was not at full power throughout."
    )


class MarkedTwice(FitError):
    code = "marked-twice"
    template = marked("Mark at most one stretch of cooling and one of full power in a log.")
