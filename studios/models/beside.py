"""A refusal of the thermal model as Django's forms take one."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db.models import Model

from studios.errors import LehrbookError


def beside(error: LehrbookError, row: Model) -> ValidationError:
    """The refusal stands beside the column that it names, or above all where that is none of the row's."""
    names = {field.name for field in row._meta.fields}  # noqa: SLF001 - documented by Django
    return ValidationError({error.field: str(error)} if error.field in names else str(error))
