"""What the page of a weekly class asks for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from scheduling.models import Course
from scheduling.selectors.offers import MOST_WEEKS
from scheduling.selectors.skips import Skip, proposed_skips
from scheduling.web.forms import PlainForm, asked_for, day_field, known_day, taught_only_at, time_field
from scheduling.web.numbers import WholeField
from scheduling.wording import dated
from studios.models import Person, Studio

WEEKS = format_lazy(_("Choose between 2 and {most} meetings."), most=MOST_WEEKS)
MOST_SKIPPED = 60


class SkipField(forms.MultipleChoiceField):
    """Days that are left out; which ones can be is known only when the rest has been read."""

    def clean(self, value: Any) -> list[dt.date]:
        """What is no day is passed over: the boxes themselves send days only."""
        found = set()
        for text in (value or ())[:MOST_SKIPPED]:
            try:
                found.add(dt.date.fromisoformat(text))
            except ValueError:
                continue
        return sorted(found)


class WeeklyForm(PlainForm):
    """An instructor's wish: this course, at this studio, every week from a day on, at this time."""

    course = forms.ModelChoiceField(
        queryset=Course.objects.none(),
        to_field_name="slug",
        label=_("Course"),
        empty_label=_("Choose a course"),
        error_messages=asked_for(_("Choose a course.")),
    )
    studio = forms.ModelChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        label=_("Studio"),
        empty_label=None,
        error_messages=asked_for(_("Choose a studio.")),
    )
    instructor = forms.ModelChoiceField(
        queryset=Person.objects.none(),
        to_field_name="uid",
        label=_("Instructor"),
        required=False,
        empty_label=None,
        error_messages=asked_for(_("Choose an instructor.")),
    )
    first_day = day_field(_("Every week from"), _("Choose the first day."))
    weeks = WholeField(
        label=_("Meetings"),
        min_value=2,
        max_value=MOST_WEEKS,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), WEEKS),
    )
    time = time_field(_("Class begins at"), _("Choose a time."), _("By the studio's clock."))
    over_by = time_field(_("Over by"), _("Choose a time, or none."), _("Empty: any time."), required=False)
    skip = SkipField(
        required=False,
        label=_("Days to leave out"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Each day left out adds a week at the end."),
    )
    # For what the proposals shown were made; whatever else stands here, they are made anew.
    proposed = forms.Field(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, studios: QuerySet[Studio], instructors: QuerySet[Person], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        courses = Course.objects.filter(active=True, studios__in=studios).distinct()
        for name, rows in (("course", courses), ("studio", studios), ("instructor", instructors)):
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = rows
        self.instructors = instructors
        if instructors.count() < 2:
            del self.fields["instructor"]

    def clean(self) -> dict[str, Any]:
        """The course is taught at the studio; where only one may teach, nobody is asked who."""
        given = super().clean() or {}
        given["instructor"] = given.get("instructor") or self.instructors.first()
        if given["instructor"] is None:
            self.add_error(None, _("Nobody teaches here yet: somebody needs the role instructor."))
        course, studio = given.get("course"), given.get("studio")
        if course and studio and studio not in course.studios.all():
            self.add_error("studio", taught_only_at(course))
        return given

    def skipped(self) -> tuple[list[dt.date], list[Skip]]:
        """The days left out, and those proposed. What is proposed is left out until somebody says no.

        A proposal stands for one studio, first day and number of weeks; when these change it is made anew.
        """
        given = self.cleaned_data
        first, weeks = given["first_day"], given["weeks"]
        proposed = proposed_skips(given["studio"], first, weeks)
        asked = f"{given['studio'].slug} {first} {weeks}"
        skipped = {day for day in given["skip"] if day >= first and not (day - first).days % 7}
        if given["proposed"] != asked:
            skipped |= {skip.day for skip in proposed}
        sent = {name: self.data.get(name) for name in self.data}
        self.data = {**sent, "proposed": asked, "skip": [str(day) for day in sorted(skipped)]}
        return sorted(skipped), proposed

    def offer_skips(self, days: Sequence[dt.date], proposed: Sequence[Skip]) -> None:
        """A box for each meeting and for each day left out."""
        why = {skip.day: skip.reason for skip in proposed}
        field = self.fields["skip"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = [(str(day), _named(day, why.get(day, ""))) for day in days]


def _named(day: dt.date, why: str) -> str:
    return dated(day, "D j M") + (f" ({why})" if why else "")


def days_sent(texts: Sequence[str]) -> list[dt.date] | None:
    """The days of a booking as the page sends them back; None where they are none of its days."""
    try:
        days = [dt.date.fromisoformat(text) for text in texts]
        for day in days:
            known_day(day)
    except (ValueError, forms.ValidationError):
        return None
    return days
