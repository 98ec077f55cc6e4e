"""What the pages of equipment and calibrations ask for."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from scheduling.selectors.calibrations import accepted_or_offered, fits_of, today_at
from scheduling.services.calibrating import log_minutes
from scheduling.web.forms import DayInput, PlainForm
from studios.calibration import Kind, Mark
from studios.calibration.table import LARGEST_BYTES
from studios.errors import LehrbookError
from studios.models import Calibration, Ranges

ELAPSED_HELP = "Hours and minutes from the first reading, such as 3:20, or minutes."
PAIRS = (
    (Kind.COOLING, "cooling_from", "cooling_to"),
    (Kind.FULL_POWER, "full_power_from", "full_power_to"),
)
# What a refusal is about, and the field that it stands beside.
BESIDE = {"stretches": "cooling_from", "door_c": "ambient_c"}


class ElapsedField(forms.CharField):
    """A moment of a log: h:mm from its first reading, or plain minutes."""

    def __init__(self, label: str) -> None:
        super().__init__(label=label, required=False, max_length=12, help_text=ELAPSED_HELP)

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return log_minutes(text)
        except LehrbookError as error:
            raise forms.ValidationError(str(error)) from error


class LogForm(PlainForm):
    """A log, and whatever it does not say by itself."""

    log = forms.FileField(
        label="Log (CSV: time, temperature)",
        allow_empty_file=True,
        max_length=1000,
        help_text="Of a cooling with the heat off, a heating at full power, or both; at most 5 MB.",
        error_messages={"required": "Choose a file.", "max_length": "Give the file a shorter name."},
    )
    ambient_c = forms.FloatField(label="Ambient during the log (°C)", required=False)
    unit = forms.ChoiceField(
        label="Degrees",
        required=False,
        choices=[("", "as its header says"), ("C", "°C"), ("F", "°F")],
    )
    elapsed = forms.ChoiceField(
        label="Time, where it is a bare number",
        required=False,
        choices=[("", "as its header says"), ("s", "seconds"), ("min", "minutes"), ("h", "hours")],
    )
    day_first = forms.ChoiceField(
        label="Dates such as 3/5/2027",
        required=False,
        choices=[("", "as the log makes clear"), ("day", "day first"), ("month", "month first")],
    )
    cooling_from = ElapsedField("Cooling by itself from")
    cooling_to = ElapsedField("until")
    full_power_from = ElapsedField("Heating at full power from")
    full_power_to = ElapsedField("until")

    def clean_log(self) -> UploadedFile:
        """A file that is far too large is refused before it is read."""
        log: UploadedFile = self.cleaned_data["log"]
        if log.size is not None and log.size > LARGEST_BYTES:
            raise forms.ValidationError("A log may have at most 5 MB. Export fewer days.")
        return log

    def clean(self) -> dict[str, Any]:
        """A stretch that is marked has both ends."""
        given = super().clean() or {}
        for _, first, last in PAIRS:
            for here, there in ((first, last), (last, first)):
                if given.get(here) is None and given.get(there) is not None and here not in self.errors:
                    self.add_error(here, "Mark both ends of a stretch, or neither.")
        return given

    def refuse(self, error: LehrbookError) -> None:
        """Beside the field it is about, by the name it has here."""
        field = BESIDE.get(error.field or "", error.field)
        self.add_error(field if field in self.fields else None, str(error))

    def asked(self) -> dict[str, Any]:
        """What the service takes."""
        given = self.cleaned_data
        log: UploadedFile = given["log"]
        return {
            "log": log.read(),
            "file_name": log.name or "log",
            "ambient_c": given["ambient_c"],
            "unit": given["unit"] or None,
            "elapsed": given["elapsed"] or None,
            "day_first": {"day": True, "month": False}.get(given["day_first"]),
            "marks": [
                Mark(kind=kind, from_min=given[first], to_min=given[last])
                for kind, first, last in PAIRS
                if given[first] is not None
            ],
        }


class AcceptForm(PlainForm):
    """Which fit becomes the record, and from which day on."""

    ranges = forms.ChoiceField(
        label="Use", widget=forms.RadioSelect, error_messages={"required": "Choose one of the fits."}
    )
    valid_from = forms.DateField(
        label="As the record from", widget=DayInput(), error_messages={"required": "Choose a day."}
    )
    although_early = forms.BooleanField(
        label="I accept it although it does not say 'open' in time, or could not be checked", required=False
    )

    def __init__(self, *args: Any, calibration: Calibration, **kwargs: Any) -> None:
        kwargs.setdefault(
            "initial",
            {"ranges": accepted_or_offered(calibration), "valid_from": today_at(calibration.equipment)},
        )
        super().__init__(*args, **kwargs)
        fits = fits_of(calibration)
        ranges = self.fields["ranges"]
        if isinstance(ranges, forms.ChoiceField):
            ranges.choices = [(name, _choice(name, calibration)) for name, _ in fits]
        warned = [
            f"{Ranges(name).label.capitalize()}: {' '.join(fit['warnings'])}"
            for name, fit in fits
            if fit["warnings"]
        ]
        if not warned:
            del self.fields["although_early"]
        else:
            self.fields["although_early"].help_text = " ".join(warned)

    def asked(self) -> dict[str, Any]:
        """What the service takes."""
        day: dt.date = self.cleaned_data["valid_from"]
        return {
            "ranges": self.cleaned_data["ranges"],
            "valid_from": day,
            "although_early": self.cleaned_data.get("although_early", False),
        }


def _choice(name: str, calibration: Calibration) -> str:
    return f"{Ranges(name).label}{' (offered)' if name == calibration.offered else ''}"
