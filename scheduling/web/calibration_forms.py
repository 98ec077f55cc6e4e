"""What the pages of equipment and calibrations ask for."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.formats import sanitize_separators
from django.utils.translation import gettext_lazy as _

from scheduling.engine.clock import wall_minutes
from scheduling.selectors.calibrations import accepted_or_offered, fits_of, today_at
from scheduling.services.calibrating import log_minutes
from scheduling.web.forms import DayInput, PlainForm, asked_for, known_day, time_field
from scheduling.web.numbers import NumberField
from studios.calibration import Kind, Mark
from studios.calibration.table import LARGEST_BYTES
from studios.errors import LehrbookError
from studios.models import Calibration, Ranges, Studio
from studios.thermal.units import c_from_f

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

ELAPSED_HELP = _("Hours and minutes from the first reading, such as 3:20, or minutes.")
PAIRS = (
    (Kind.COOLING, "cooling_from", "cooling_to"),
    (Kind.FULL_POWER, "full_power_from", "full_power_to"),
)
# What a refusal is about, and the field that it stands beside.
BESIDE = {"stretches": "cooling_from", "door_c": "ambient_c"}


class ElapsedField(forms.CharField):
    """A moment of a log: h:mm from its first reading, or plain minutes."""

    def __init__(self, label: StrOrPromise) -> None:
        super().__init__(label=label, required=False, max_length=12, help_text=ELAPSED_HELP)

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return log_minutes(sanitize_separators(text))
        except LehrbookError as error:
            raise forms.ValidationError(str(error)) from error


class GivenLogForm(PlainForm):
    """A log, and whatever it does not say by itself."""

    log = forms.FileField(
        label=_("Log (CSV: time, temperature)"),
        allow_empty_file=True,
        max_length=1000,
        error_messages={"required": _("Choose a file."), "max_length": _("Give the file a shorter name.")},
    )
    unit = forms.ChoiceField(
        label=_("Degrees"),
        required=False,
        choices=[("", _("as its header says")), ("C", "°C"), ("F", "°F")],
    )
    elapsed = forms.ChoiceField(
        label=_("Time, where it is a bare number"),
        required=False,
        choices=[
            ("", _("as its header says")),
            ("s", _("seconds")),
            ("min", _("minutes")),
            ("h", _("hours")),
        ],
    )
    day_first = forms.ChoiceField(
        label=_("Dates such as 3/5/2027"),
        required=False,
        choices=[("", _("as the log makes clear")), ("day", _("day first")), ("month", _("month first"))],
    )

    def clean_log(self) -> UploadedFile:
        """A file that is far too large is refused before it is read."""
        log: UploadedFile = self.cleaned_data["log"]
        if log.size is not None and log.size > LARGEST_BYTES:
            raise forms.ValidationError(_("A log may have at most 5 MB. Export fewer days."))
        return log

    def refuse(self, error: LehrbookError) -> None:
        """Beside the field it is about, by the name it has here."""
        self.refuse_at(BESIDE.get(error.field or "", error.field), error)

    def ways(self) -> dict[str, Any]:
        """How it is to be read, where it does not say so itself."""
        given = self.cleaned_data
        return {
            "unit": given["unit"] or None,
            "elapsed": given["elapsed"] or None,
            "day_first": {"day": True, "month": False}.get(given["day_first"]),
        }


class FiringLogForm(GivenLogForm):
    """The log of one firing, and when it begins where neither its times nor the firing say."""

    day = forms.DateField(
        label=_("First reading on"),
        required=False,
        widget=DayInput(),
        validators=[known_day],
        error_messages=asked_for(_("Choose the day.")),
    )
    at = time_field(_("at"), _("Choose the time."), required=False)

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        # The page has another form with a day and a time, for what happened.
        super().__init__(*args, **{"auto_id": "id_log_%s", **kwargs})
        self.studio = studio

    def clean(self) -> dict[str, Any]:
        """A day and a time, or neither; by the studio's clock."""
        given = super().clean() or {}
        for here, there, missing in (
            ("day", "at", _("Say the day, too.")),
            ("at", "day", _("Say the time, too.")),
        ):
            if given.get(here) is None and given.get(there) is not None and here not in self.errors:
                self.add_error(here, missing)
        return given

    def begins(self) -> int | None:
        """When the first reading was taken, where that was said. Raises NoSuchWallTime."""
        day, at = self.cleaned_data.get("day"), self.cleaned_data.get("at")
        return None if day is None or at is None else wall_minutes(day, at, self.studio.zone)

    def refuse(self, error: LehrbookError) -> None:
        """A wall time that does not exist is said beside the time."""
        if error.field == "starts_at":
            self.add_error("at", str(error))
        else:
            super().refuse(error)


class LogForm(GivenLogForm):
    """A log that is fitted to a piece of equipment: the room during it, and which stretch is which."""

    ambient_c = NumberField(
        label=_("Ambient during the log"),
        required=False,
        signed=True,
        error_messages={"invalid": _("Write the temperature as a number.")},
    )
    cooling_from = ElapsedField(_("Cooling by itself from"))
    cooling_to = ElapsedField(_("until"))
    full_power_from = ElapsedField(_("Heating at full power from"))
    full_power_to = ElapsedField(_("until"))

    def __init__(self, *args: Any, reads: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reads = reads
        self.fields["log"].help_text = _(
            "Of a cooling with the heat off, a heating at full power, or both; at most 5 MB."
        )
        self.fields["ambient_c"].label = _("Ambient during the log (°%(unit)s)") % {"unit": reads}

    def clean(self) -> dict[str, Any]:
        """A stretch that is marked has both ends."""
        given = super().clean() or {}
        for __, first, last in PAIRS:
            for here, there in ((first, last), (last, first)):
                if given.get(here) is None and given.get(there) is not None and here not in self.errors:
                    self.add_error(here, _("Mark both ends of a stretch, or neither."))
        return given

    def asked(self) -> dict[str, Any]:
        """What the service takes."""
        given = self.cleaned_data
        log: UploadedFile = given["log"]
        ambient = given["ambient_c"]
        return self.ways() | {
            "log": log.read(),
            "file_name": log.name or "log",
            "ambient_c": c_from_f(ambient) if ambient is not None and self.reads == "F" else ambient,
            "marks": [
                Mark(kind=kind, from_min=given[first], to_min=given[last])
                for kind, first, last in PAIRS
                if given[first] is not None
            ],
        }


class AcceptForm(PlainForm):
    """Which fit becomes the record, and from which day on."""

    ranges = forms.ChoiceField(
        label=_("Use"),
        widget=forms.RadioSelect,
        error_messages=asked_for(_("Choose one of the fits.")),
    )
    valid_from = forms.DateField(
        label=_("As the record from"),
        widget=DayInput(),
        error_messages=asked_for(_("Choose a day.")),
    )
    although_early = forms.BooleanField(
        label=_("I accept it although it does not say “open” in time, or could not be checked"),
        required=False,
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
    label = str(Ranges(name).label)
    return _("%(ranges)s (offered)") % {"ranges": label} if name == calibration.offered else label
