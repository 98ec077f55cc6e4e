"""What the forms of the set-up share: the reader's units, parts with a heading, errors in their place."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.validators import DecimalValidator
from django.forms.boundfield import BoundField
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from scheduling.web.forms import DayInput, TimeInput
from scheduling.web.numbers import ExactField, WholeField, bounds_said
from scheduling.web.setup_forms.measured import MeasuredField, Unit, units_of
from studios.errors import LehrbookError
from studios.models import Studio
from studios.models.beside import plainly

Words = str | Promise
MISSING = _("Fill this in.")
PLAIN = Unit(sign="")


@dataclass(frozen=True, kw_only=True)
class Part:
    """Some fields under a heading; `aside` where most leave them as they are."""

    title: Words
    names: Sequence[str]
    note: Words = ""
    aside: bool = False


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A part with its fields, opened where one of them has an error."""

    title: Words
    note: Words
    aside: bool
    fields: Sequence[BoundField]

    @property
    def wrong(self) -> bool:
        return any(field.errors for field in self.fields)


class Source(forms.Textarea):
    """Where numbers come from takes more than a line."""

    def __init__(self) -> None:
        super().__init__(attrs={"rows": 2})


class Worded:
    """A form whose fields are in the reader's units and stand in parts."""

    fields: dict[str, forms.Field]
    parts: ClassVar[Sequence[Part]] = ()
    # Which names of `measured.Units` the numbers of a field are in.
    measures: ClassVar[dict[str, str]] = {}
    # Whose numbers may be below nothing.
    signed: ClassVar[Collection[str]] = ()

    def worded(self, studio: Studio) -> None:
        units = units_of(studio)
        for name, field in self.fields.items():
            if isinstance(field, forms.IntegerField):
                unit = getattr(units, self.measures[name]) if name in self.measures else PLAIN
                self.fields[name] = _written(field, unit, signed=name in self.signed)
        for field in self.fields.values():
            _with_pickers(field)
            field.error_messages["required"] = MISSING

    def add_error(self, field: str | None, error: Any) -> None:
        """A bound is said in the unit that the number was asked for in."""
        found = error if isinstance(error, ValidationError) else ValidationError(error)
        by_field = found.error_dict if hasattr(found, "error_dict") else {field: found.error_list}
        for name, errors in by_field.items():
            asked = self.fields.get(name or "")
            if isinstance(asked, MeasuredField):
                bounds_said(errors, asked.unit.said)
        super().add_error(field, found)  # type: ignore[misc]  # a form's

    def as_it_was(self, typed: dict[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
        """A number that reads as before is stored as before, and not as its rounding comes back."""
        for name, field in self.fields.items():
            stored, was = typed.get(name), before.get(name)
            if isinstance(field, MeasuredField) and stored is not None and was is not None:
                typed[name] = was if field.unit.shown(was) == field.unit.shown(stored) else stored
        return typed

    def shown(self) -> Iterator[Shown]:
        """The parts that have a field here; what no part names comes first."""
        named = {name for part in self.parts for name in part.names}
        rest = [name for name in self.fields if name not in named]
        for part in (Part(title="", names=rest), *self.parts):
            fields = [self[name] for name in part.names if name in self.fields]  # type: ignore[index]
            if fields:
                yield Shown(title=part.title, note=part.note, aside=part.aside, fields=fields)

    def refuse(self, error: LehrbookError) -> None:
        """Show a service's refusal beside the field it names, or above all; what was typed stays."""
        here = error.field in self.fields
        self.add_error(error.field if here else None, plainly(error) if here else str(error))


class SetUpForm(Worded, forms.ModelForm):
    """One row of the set-up. The model's own rules are checked with it, each beside its field."""

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self._in_our_words()
        self.worded(studio)

    def _in_our_words(self) -> None:
        """What the model says to whoever runs the server is not said here."""
        ours = self._meta.help_texts or {}
        for name in set(self._meta.fields or ()) - set(ours) - set(self.declared_fields):
            if name in self.fields:
                self.fields[name].help_text = ""

    def clean(self) -> dict[str, Any]:
        return self.as_it_was(super().clean() or self.cleaned_data, self.initial)

    def _update_errors(self, errors: ValidationError) -> None:
        """What the model says of a column that is not asked for here stands above all."""
        super()._update_errors(_here(errors, self.fields))  # type: ignore[misc]  # Django has it, its types not


class SetUpQuestion(Worded, forms.Form):
    """What is asked where it is no row of its own."""

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self.worded(studio)


def _here(errors: ValidationError, fields: dict[str, forms.Field]) -> ValidationError:
    if not hasattr(errors, "error_dict"):
        return errors
    placed: dict[str, list[ValidationError]] = {}
    for name, found in errors.error_dict.items():
        placed.setdefault(name if name in fields else NON_FIELD_ERRORS, []).extend(found)
    return ValidationError(placed)


def _written(field: forms.IntegerField, unit: Unit, *, signed: bool) -> forms.Field:
    """The same field, as its reader writes numbers; its bounds hold for what is stored."""
    facts = {
        "label": f"{field.label} ({unit.sign})" if unit.sign else field.label,
        "required": field.required,
        "initial": field.initial,
        "help_text": field.help_text,
        "validators": [each for each in field.validators if not isinstance(each, DecimalValidator)],
        "signed": signed,
    }
    if isinstance(field, forms.DecimalField):
        return ExactField(max_digits=field.max_digits, decimal_places=field.decimal_places, **facts)
    if isinstance(field, forms.FloatField) or unit.sign:
        return MeasuredField(unit=unit, whole=not isinstance(field, forms.FloatField), **facts)
    return WholeField(**facts)


def _with_pickers(field: forms.Field) -> None:
    """Days and times are picked, where the browser can."""
    if isinstance(field, forms.DateField):
        field.widget = DayInput()
    elif isinstance(field, forms.TimeField):
        field.widget = TimeInput()
    field.widget.is_required = field.required
