"""What the page of other calendars asks for."""

from __future__ import annotations

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from scheduling.ical.reading.apart import MOST_BYTES
from scheduling.services.other_calendars import LABEL_LENGTH, LINK_LENGTH
from scheduling.web.forms import PlainForm, asked_for
from scheduling.wording import say
from studios.errors import LehrbookError

MOST_MB = MOST_BYTES // 1024 // 1024


class NamedForm(PlainForm):
    """A name by which a person knows one of their own calendars again."""

    label = forms.CharField(
        max_length=LABEL_LENGTH,
        label=_("What you call it"),
        help_text=_("Such as: home. Only you see it."),
        error_messages=asked_for(_("Give it a name.")),
    )


class CalendarLinkForm(NamedForm):
    """A calendar that is fetched."""

    link = forms.CharField(
        max_length=LINK_LENGTH,
        label=_("Its secret link"),
        help_text=_("It begins with https:// or webcal://, and mostly ends with .ics."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "url", "spellcheck": "false"}),
        error_messages=asked_for(_("Give its link.")),
    )


class CalendarFileForm(NamedForm):
    """A calendar as it was saved."""

    file = forms.FileField(
        label=_("Its file (.ics)"),
        max_length=1000,
        allow_empty_file=True,
        help_text=format_lazy(
            _("At most {most_mb} MB. What changes later is not seen: give a link for that."), most_mb=MOST_MB
        ),
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
        error_messages={"required": _("Choose a file."), "max_length": _("Give the file a shorter name.")},
    )

    def clean_file(self) -> UploadedFile:
        """A file that is far too large is refused before it is read."""
        file: UploadedFile = self.cleaned_data["file"]
        if file.size is not None and file.size > MOST_BYTES:
            raise forms.ValidationError(
                say("A calendar may have at most {most_mb} MB. Export fewer years.", most_mb=MOST_MB)
            )
        return file

    def refuse(self, error: LehrbookError) -> None:
        """What is wrong in a calendar stands beside its file."""
        field = "file" if error.field == "content" else error.field
        self.add_error(field if field in self.fields else None, str(error))
