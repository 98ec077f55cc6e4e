"""How the pages of seats write days."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django import template
from django.utils import dateformat
from django.utils.translation import pgettext

from scheduling.engine.clock import moment

register = template.Library()


@register.filter
def day_only(value: dt.datetime | int, zone: ZoneInfo) -> str:
    """A day in short: Tue 9 Mar."""
    at = moment(value) if isinstance(value, int) else value
    return dateformat.format(at.astimezone(zone), pgettext("date", "D j M"))
