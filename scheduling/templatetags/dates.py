"""Days as each language writes them: 9 March 2027 is 9. März 2027."""

from __future__ import annotations

from typing import Any

from django import template
from django.template.defaultfilters import date as dated
from django.utils.translation import pgettext

register = template.Library()


def marked_formats() -> tuple[str, ...]:
    """Every format of a day in the pages, as the catalogue has it."""
    return (
        *(pgettext("date", "D j M"), pgettext("date", "D j M Y"), pgettext("date", "F Y")),
        *(pgettext("date", "j"), pgettext("date", "j F"), pgettext("date", "j F Y"), pgettext("date", "l")),
        *(pgettext("date", "l j F"), pgettext("date", "l j F Y"), pgettext("date", "H:i")),
    )


@register.filter(expects_localtime=True, is_safe=False)
def date(value: Any, form: str | None = None) -> str:
    """Django's own filter, with the format in the reader's language."""
    return str(dated(value, form if form is None else pgettext("date", form)))
