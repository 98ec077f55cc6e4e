"""Names of kiln work that are stored, as they are read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from scheduling.engine.kiln_work.routes import Handwork, RouteName
from scheduling.models import KilnAim

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

ROUTES: Mapping[str, StrOrPromise] = {
    RouteName.FUSE.value: _("full fuse"),
    RouteName.FUSE_SLUMP.value: _("full fuse, then slump"),
    RouteName.TACK.value: _("tack fuse"),
    RouteName.PAINT.value: _("paint, fired on"),
    RouteName.CAST.value: _("kiln cast"),
}
AIMS: Mapping[str, StrOrPromise] = {
    KilnAim.EARLIEST.value: _("ready earliest"),
    KilnAim.CHEAPEST.value: _("cheapest"),
    KilnAim.FEWEST_VISITS.value: _("fewest visits"),
}
# What is pressed to seek a plan by an aim.
SEEK: Mapping[str, StrOrPromise] = {
    KilnAim.EARLIEST.value: _("Seek the earliest, too"),
    KilnAim.CHEAPEST.value: _("Seek the cheapest, too"),
    KilnAim.FEWEST_VISITS.value: _("Seek the fewest visits, too"),
}
HANDWORK: Mapping[str, StrOrPromise] = {
    Handwork.WASH_SHELVES.value: _("wash the shelves"),
    Handwork.PREPARE_MOULDS.value: _("prepare and wash the moulds"),
    Handwork.COLD_WORK.value: _("cold work"),
}
