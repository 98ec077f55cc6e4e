"""Numbers as their reader writes them: 6.5 in English, 6,5 in German.

They stand in fields of text, with the keys for numbers on a phone. What a browser takes for a number, in a
field of its own, goes by the browser's language and not by the page's, and what it does not take it sends
as nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import get_format, localize_input
from django.utils.translation import gettext_lazy as _

_THOUSANDS = re.compile(r"\s*[+-]?\d{1,3}(\.\d{3})+\s*")
NO_NUMBER = _("Write a number, such as 12 or 0.5.")
# What an error says of a number, as it is stored.
BOUNDS = {"limit_value", "low", "high", "value"}
TWO_MEANINGS = _("Write it without a point: it may part thousands here, or mean a comma.")


class _Written:
    """What all three have in common; the first of a field's classes."""

    keys = "decimal"

    def __init__(self, *, signed: bool = False, **facts: Any) -> None:
        """`signed`: it may be below nothing, and the keys for numbers have no minus on every phone."""
        super().__init__(localize=True, **facts)  # type: ignore[call-arg]  # as of the field beside it
        keys = "text" if signed else self.keys
        self.widget.attrs = {"inputmode": keys, "autocomplete": "off", "size": 10} | self.widget.attrs  # type: ignore[attr-defined]

    def to_python(self, value: Any) -> Any:
        """A point between three digits is a thousand to one reader and a fraction to another."""
        if isinstance(value, str) and get_format("DECIMAL_SEPARATOR") != "." and _THOUSANDS.fullmatch(value):
            raise ValidationError(TWO_MEANINGS, code="two-meanings")
        return super().to_python(value)  # type: ignore[misc]


class NumberField(_Written, forms.FloatField):
    """A number that may have a fraction."""

    default_error_messages = {"invalid": NO_NUMBER}

    def prepare_value(self, value: Any) -> Any:
        """What is whole is shown without a point."""
        return int(value) if isinstance(value, float) and value.is_integer() else value


class ExactField(_Written, forms.DecimalField):
    """A number to so many places: a price, a latitude."""

    default_error_messages = {"invalid": NO_NUMBER}


class WholeField(_Written, forms.IntegerField):
    """A number without a fraction."""

    keys = "numeric"
    default_error_messages = {"invalid": _("Write a whole number, such as 12.")}


def bounds_said(
    errors: Iterable[ValidationError], say: Callable[[float], str] | None = None
) -> Iterable[ValidationError]:
    """What errors say of numbers, as their reader writes them, or as `say` does."""
    for error in errors:
        facts = (error.params or {}).items()
        error.params = {name: _said(fact, say) if name in BOUNDS else fact for name, fact in facts}
    return errors


def _said(fact: Any, say: Callable[[float], str] | None) -> Any:
    return (say or number_written)(fact) if isinstance(fact, int | float) else fact


def number_written(number: float) -> str:
    """A number as it stands in a field."""
    return str(localize_input(number))
