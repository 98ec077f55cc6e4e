"""How times are said to people: by the studio's clock, with its zone named."""

from __future__ import annotations

import datetime as dt

from studios.models import Studio


def when(moment: dt.datetime, studio: Studio) -> str:
    """A moment by the studio's clock: Tue 9 Mar 2027, 18:00 CST."""
    local = moment.astimezone(studio.zone)
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M %Z}"
