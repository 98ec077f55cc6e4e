"""Which part of the audit somebody asks for; it stands in the address."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.utils.translation import gettext_lazy as _

from scheduling.web.forms import DayInput, PlainForm, asked_for, known_day
from studios.models import Studio


class AuditForm(PlainForm):
    """A day, a kind of thing, one thing; each may be left out."""

    day = forms.DateField(
        required=False,
        widget=DayInput(),
        label=_("Day"),
        validators=[known_day],
        error_messages=asked_for(_("Choose a day, or none.")),
    )
    kind = forms.ChoiceField(
        required=False, label=_("Done to"), error_messages=asked_for(_("Choose one of these, or all."))
    )
    of = forms.UUIDField(
        required=False, widget=forms.HiddenInput(), error_messages=asked_for(_("There is no such thing."))
    )

    def __init__(self, *args: Any, kinds: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["kind"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [("", _("everything")), *((kind, NAMES.get(kind, kind)) for kind in kinds)]

    def asked(self, studio: Studio) -> str:
        """The same question as the part of an address, for its other pages and the file."""
        given = {name: value for name, value in self.cleaned_data.items() if value}
        return urlencode({"studio": studio.slug, **given})


# How the kinds of things are read where their name alone would not do.
NAMES = {
    "feedkey": _("calendar links"),
    "session": _("classes"),
    "seat": _("seats"),
    "person": _("people"),
    "charge": _("charges and levels of glass"),
    "refill": _("refills"),
    "calibration": _("fitted logs"),
    "firing": _("firings"),
    "outage": _("outages"),
    "waitingplace": _("places in waiting lines"),
    "actual": _("what was recorded of a firing"),
    "pickup": _("shelves and pick-up times"),
    "collection": _("pieces collected"),
    "earliercourse": _("earlier courses"),
    "safetytext": _("safety texts"),
    "acknowledgement": _("safety texts read"),
    "setup": _("the set-up"),
    "supply": _("supplies"),
}
