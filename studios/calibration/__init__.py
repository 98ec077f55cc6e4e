"""From a logged temperature to an equipment record: which stretch is which, the fit, and how good it is.

Pure Python, numpy and scipy: `read_log` reads what a logger wrote, `calibrate` fits and judges.
"""

from studios.calibration.clock import Written
from studios.calibration.errors import CalibrationError, FitError, LogError
from studios.calibration.fit import Fit, Interval, Residuals
from studios.calibration.judge import Judgement
from studios.calibration.log import Log, read_log
from studios.calibration.offer import Calibration, calibrate
from studios.calibration.stretches import Kind, Mark, Stretch

__all__ = [
    "Calibration",
    "CalibrationError",
    "Fit",
    "FitError",
    "Interval",
    "Judgement",
    "Kind",
    "Log",
    "LogError",
    "Mark",
    "Residuals",
    "Stretch",
    "Written",
    "calibrate",
    "read_log",
]
