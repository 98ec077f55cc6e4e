"""A fit is judged by what it is for: the time until the door may be opened."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studios.calibration.log import Log
from studios.calibration.shape import EVEN_OUT, Array, evened_out
from studios.calibration.stretches import Stretch
from studios.said import said
from studios.thermal import Body, cool_down_curve

LARGEST_ERROR_SHARE = 0.05
EARLY_MIN = 1.0  # a booking is kept to the minute: earlier than this is early
LOCAL_READINGS = 6
START_SHARE = 0.15
LOCAL_SHARE = 0.6  # of the excess: the readings from which a temperature is read off the log
NO_CEILING_C = 2500.0


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """Minutes from the start of the cooling to `judged_c`, as logged and as the record says.

    `judged_c` is the door temperature, or the lowest the log reaches where it ends above it.
    """

    door_c: float
    judged_c: float
    reaches_door: bool
    measured_min: float
    predicted_min: float
    sentence: str

    @property
    def error_min(self) -> float:
        """Positive where the record says 'open' too late, negative where it says so too early."""
        return self.predicted_min - self.measured_min

    @property
    def error_share(self) -> float:
        return abs(self.error_min) / self.measured_min

    @property
    def says_open_early(self) -> bool:
        return self.error_min < -EARLY_MIN

    @property
    def holds(self) -> bool:
        return self.error_share <= LARGEST_ERROR_SHARE


@dataclass(frozen=True, kw_only=True)
class Record:
    """The numbers of a fit that rule a cooling."""

    tau_h: float
    tau_low_h: float | None
    split_c: float
    ambient_c: float


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What the log itself says of a cooling: from what temperature to what, in how many minutes."""

    from_c: float
    to_c: float
    minutes: float
    reaches_door: bool


def judge(log: Log, cooling: Stretch, record: Record, *, door_c: float) -> Judgement:
    """The minutes of the log against those of the record from the same temperature to the same."""
    measured = measured_fall(log, cooling, ambient_c=record.ambient_c, door_c=door_c)
    body = Body(
        tau_h=record.tau_h,
        tau_low_h=record.tau_low_h,
        split_c=record.split_c,
        ceiling_c=NO_CEILING_C,
        power_kw=0.0,
        ambient_c=record.ambient_c,
    )
    predicted_min = cool_down_curve(body, from_c=measured.from_c, to_c=measured.to_c).duration_min
    return Judgement(
        door_c=door_c,
        judged_c=measured.to_c,
        reaches_door=measured.reaches_door,
        measured_min=measured.minutes,
        predicted_min=predicted_min,
        sentence=_sentence(measured, predicted_min, door_c),
    )


def measured_fall(log: Log, cooling: Stretch, *, ambient_c: float, door_c: float) -> Measured:
    """From the readings themselves, evened out near the start and near the end."""
    inside = slice(cooling.first, cooling.last)
    minutes, temps_c = np.array(log.minutes[inside]), np.array(log.temps_c[inside])
    head, tail = _near_start(temps_c - ambient_c), _near_end(temps_c - ambient_c)
    from_c = _local_c(minutes[head], temps_c[head], ambient_c, cooling.from_min)
    end_c = _local_c(minutes[tail], temps_c[tail], ambient_c, cooling.to_min)
    reaches = _reaches(log, cooling, door_c)
    to_c = door_c if reaches else end_c
    at_min = _local_min(minutes[tail], temps_c[tail], ambient_c, to_c)
    return Measured(
        from_c=from_c, to_c=to_c, minutes=max(at_min - cooling.from_min, 1e-6), reaches_door=reaches
    )


def _reaches(log: Log, cooling: Stretch, door_c: float) -> bool:
    """The stretch ends at the door temperature where the readings go on below it, or just arrive."""
    after = log.temps_c[cooling.last - 1 : cooling.last + EVEN_OUT]
    return min(after) <= door_c


def _near_start(excess: Array) -> slice:
    near = int(np.argmax(excess < (1 - START_SHARE) * excess[0]))
    return slice(0, max(LOCAL_READINGS, near))


def _near_end(excess: Array) -> slice:
    even = evened_out(excess)
    above = np.flatnonzero(even > (1 + LOCAL_SHARE) * float(even[-1]))
    first = int(above[-1]) + 1 if len(above) else 0
    return slice(max(0, min(first, len(excess) - LOCAL_READINGS)), len(excess))


def _line(minutes: Array, temps_c: Array, ambient_c: float) -> tuple[float, float]:
    """Slope and height of the straight line in ln(T − Ta)."""
    slope, height = np.polyfit(minutes, np.log(np.maximum(temps_c - ambient_c, 0.5)), 1)
    return float(slope), float(height)


def _local_c(minutes: Array, temps_c: Array, ambient_c: float, at_min: float) -> float:
    slope, height = _line(minutes, temps_c, ambient_c)
    return ambient_c + float(np.exp(slope * at_min + height))


def _local_min(minutes: Array, temps_c: Array, ambient_c: float, at_c: float) -> float:
    slope, height = _line(minutes, temps_c, ambient_c)
    return (float(np.log(at_c - ambient_c)) - height) / slope


def _sentence(measured: Measured, predicted_min: float, door_c: float) -> str:
    error_min = predicted_min - measured.minutes
    sentence = said(
        "From {from_c:.0f} to {to_c:.0f} °C the log takes {measured} and this record {predicted}: {how_far}.",
        from_c=measured.from_c,
        to_c=measured.to_c,
        measured=_hours(measured.minutes),
        predicted=_hours(predicted_min),
        how_far=_how_far(error_min, measured.minutes),
    )
    if measured.reaches_door:
        return sentence
    return said(
        "{sentence} The cooling ends above the door temperature ({door_c:.0f} °C): not checked to there.",
        sentence=sentence,
        door_c=door_c,
    )


def _hours(minutes: float) -> str:
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    return f"{whole // 60} h {whole % 60:02d} min"


def _how_far(error_min: float, measured_min: float) -> str:
    share = abs(error_min) / measured_min
    if error_min < -EARLY_MIN:
        return said("it says ‘open’ {time} too early ({share:.1%})", time=_hours(-error_min), share=share)
    if error_min > EARLY_MIN:
        return said("it says ‘open’ {time} late ({share:.1%})", time=_hours(error_min), share=share)
    return said("the same to within {minutes:.0f} minute", minutes=EARLY_MIN)
