"""Why a start stands where it stands among those that are offered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from scheduling.engine.measures import Measure
from scheduling.selectors.offers import OfferLine
from scheduling.wording import long

# What can count, as it is chosen and as it heads what was found.
ORDERS_SAID: dict[Measure, Promise] = {
    Measure.EARLIEST: lazy("earliest"),
    Measure.NEAREST: lazy("nearest to the wish"),
    Measure.NIGHT: lazy("least held while nobody is there"),
    Measure.WARM: lazy("least heating up"),
    Measure.ENERGY: lazy("least energy"),
    Measure.TRAVEL: lazy("least travel"),
}


def measured(offer: OfferLine, order: Measure) -> str:
    """How a start measures: 10 h 30 min held while nobody is there."""
    if order is Measure.EARLIEST:
        return ""
    if order is Measure.ENERGY:
        return _("%(kwh).1f kWh") % {"kwh": offer.measured}
    sentences = {
        Measure.NEAREST: _("%(time)s from the wished time"),
        Measure.NIGHT: _("%(time)s held while nobody is there"),
        Measure.WARM: _("%(time)s of heating up"),
        Measure.TRAVEL: _("%(time)s on the way"),
    }
    return sentences[order] % {"time": long(round(offer.measured))}


def why_ranked(offers: Sequence[OfferLine], order: Measure) -> Iterator[str]:
    """One sentence for each offer, in their order: the best says so, the others how far they are from it."""
    if order is Measure.EARLIEST:
        yield from _why_so_late([_day(offer) for offer in offers], _("The first of all these days."))
        return
    for number, offer in enumerate(offers):
        if number == 0:
            yield _first(offer, order)
        elif round(offer.measured, 6) == round(offers[number - 1].measured, 6):
            yield _("As good as the one before it.")
        else:
            yield _behind(offer.measured - offers[0].measured, order)


def _first(offer: OfferLine, order: Measure) -> str:
    if order is Measure.NEAREST and not offer.measured:
        return _("Exactly at the wished time.")
    return _("None of these days has less.")


def _behind(more: float, order: Measure) -> str:
    if order is Measure.ENERGY:
        return _("%(kwh).1f kWh more than the first.") % {"kwh": more}
    return _("%(time)s more than the first.") % {"time": long(round(more))}


def why_that_day(days: Sequence[dt.date], time: dt.time) -> Iterator[str]:
    """Day by day at one time: the first on which it works, and how much later the others are."""
    first = _("The first of these days on which %(time)s works.") % {"time": f"{time:%H:%M}"}
    return _why_so_late(days, first)


def _why_so_late(days: Sequence[dt.date], first: str) -> Iterator[str]:
    for number, day in enumerate(days):
        later = (day - days[0]).days
        if number == 0:
            yield first
        elif later == 0:
            yield _("The same day.")
        else:
            yield ngettext("A day later.", "%(days)d days later.", later) % {"days": later}


def _day(offer: OfferLine) -> dt.date:
    return offer.option.starts_at.astimezone(offer.option.studio.zone).date()
