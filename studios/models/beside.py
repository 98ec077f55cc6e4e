"""A refusal of the thermal model as Django's forms take one."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db.models import Model
from django.utils.translation import gettext_lazy as _

from studios.errors import LehrbookError
from studios.thermal.errors import OutOfRange

BOUNDS = ("low", "high", "value")


def beside(error: LehrbookError, row: Model) -> ValidationError:
    """The refusal stands beside the column that it names, or above all where that is none of the row's."""
    names = {field.name for field in row._meta.fields}  # noqa: SLF001 - documented by Django
    return ValidationError({error.field: plainly(error)} if error.field in names else str(error))


def plainly(error: LehrbookError) -> ValidationError:
    """A refusal that stands beside its field, which need not be named again as a program names it."""
    if type(error) is not OutOfRange:
        return ValidationError(str(error))
    bounds = {name: float(error.facts[name]) for name in BOUNDS}
    return ValidationError(
        _("This lies between %(low)s and %(high)s; %(value)s does not. Check its unit."),
        params={name: int(one) if one.is_integer() else one for name, one in bounds.items()},
    )
