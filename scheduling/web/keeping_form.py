"""What is filled in while a seat is kept, and what is read before it is booked."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from scheduling.models import Course
from scheduling.services.seating import LONGEST_NOTE
from scheduling.web.forms import PlainForm, asked_for
from studios.models import Equipment, Person, SafetyText


class ReadForm(PlainForm):
    """Somebody has read a studio's safety text; the box carries the version that was shown."""

    acknowledged = forms.IntegerField(required=False, min_value=1, max_value=10**6)

    def __init__(self, *args: Any, text: SafetyText | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.text = text
        if text is None:
            del self.fields["acknowledged"]


class KeptSeatForm(ReadForm):
    """The torch, where the class has several free; a note; and the text, where it is asked."""

    torch = forms.ModelChoiceField(
        queryset=Equipment.objects.none(),
        required=False,
        to_field_name="uid",
        empty_label=None,
        label=_("Torch"),
        error_messages=asked_for(_("Choose one of the free torches.")),
    )
    note = forms.CharField(
        required=False,
        max_length=LONGEST_NOTE,
        label=_("A note to the studio"),
        help_text=_("If there is something to know, such as that you are left-handed."),
    )
    field_order = ["torch", "note", "acknowledged"]

    def __init__(self, *args: Any, torches: QuerySet[Equipment], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["torch"]
        if torches.count() < 2:
            del self.fields["torch"]
        elif isinstance(field, forms.ModelChoiceField):
            field.queryset = torches


class VouchForm(PlainForm):
    """Somebody has taken a course before."""

    person = forms.ModelChoiceField(
        queryset=Person.objects.none(),
        to_field_name="uid",
        label=_("Person"),
        empty_label=_("Choose a person"),
        error_messages=asked_for(_("Choose a person.")),
    )
    course = forms.ModelChoiceField(
        queryset=Course.objects.none(),
        to_field_name="slug",
        label=_("Course"),
        empty_label=_("Choose a course"),
        error_messages=asked_for(_("Choose a course.")),
    )

    def __init__(self, *args: Any, people: Any, courses: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (("person", people), ("course", courses)):
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = rows
