"""A class's kiln firing is opened to others: how many shelves it keeps, and until when others may add."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from scheduling.engine.clock import moment, wall_minutes
from scheduling.selectors.opening import CAREFUL_FILL, Opening
from scheduling.web.forms import known_day
from scheduling.web.setup_forms.base import SetUpQuestion
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Studio

# Where a service's refusal of a field stands on the page.
BESIDE = {"until": "until_day", "starts_at": "until_day"}


class OpeningForm(SetUpQuestion):
    """Days and times are by the studio's clock; left out, others add until loading begins."""

    shelves_kept = forms.IntegerField(label=_("Shelves that the class keeps"))
    until_day = forms.DateField(required=False, label=_("Others add until"), validators=[known_day])
    until_time = forms.TimeField(required=False, label=_("at"))

    def __init__(self, *args: Any, studio: Studio, opening: Opening, **kwargs: Any) -> None:
        initial = _as_it_stands(opening, studio)
        super().__init__(*args, studio=studio, initial=initial, auto_id="opening_%s", **kwargs)
        keeping = opening.keeping
        if keeping is not None:
            self.fields["shelves_kept"].help_text = gettext(
                "Counted from below; at least %(least)s, at most %(most)s. Its pieces take %(usual)s where "
                "shelves are covered to %(fill)s %% (common practice, no source)."
            ) % {
                "least": keeping.least,
                "most": keeping.most,
                "usual": keeping.careful,
                "fill": round(CAREFUL_FILL * 100),
            }
        begins = when(opening.firing.occupancy.starts_at, studio)
        self.fields["until_day"].help_text = gettext("Left out: until its loading begins, %(when)s.") % {
            "when": begins
        }

    def asked(self) -> dict[str, Any] | None:
        """What the service takes; None: an error stands beside."""
        given = self.cleaned_data
        day, time = given["until_day"], given["until_time"]
        if (day is None) != (time is None):
            self.add_error("until_day", gettext("Give a day and a time, or neither."))
            return None
        until = self._moment(day, time) if day is not None else None
        return None if self.errors else {"shelves_kept": given["shelves_kept"], "until": until}

    def _moment(self, day: dt.date, time: dt.time) -> dt.datetime | None:
        try:
            return moment(wall_minutes(day, time, self.studio.zone))
        except LehrbookError as error:
            self.add_error("until_time", str(error))
            return None

    def refuse(self, error: LehrbookError) -> None:
        """A refusal stands beside its field; what was typed stays."""
        name = BESIDE.get(error.field or "", error.field)
        self.add_error(name if name in self.fields else None, str(error))


def _as_it_stands(opening: Opening, studio: Studio) -> dict[str, Any]:
    """What the class keeps now, or would keep; until which hour others add, where one was given."""
    firing, keeping = opening.firing, opening.keeping
    kept = {"shelves_kept": keeping.usual if keeping is not None else None}
    until = firing.takes_more_until
    if until is None or not timezone.now() < until < firing.occupancy.starts_at:
        return kept
    local = until.astimezone(studio.zone)
    return {**kept, "until_day": local.date(), "until_time": local.time()}
