"""What the page of a weekly class asks for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet

from scheduling.models import Course
from scheduling.selectors.offers import MOST_WEEKS
from scheduling.selectors.skips import Skip, proposed_skips
from scheduling.web.forms import PlainForm, asked_for, day_field, known_day, time_field
from studios.models import Person, Studio

WEEKS = f"Choose between 2 and {MOST_WEEKS} meetings."
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
        empty_label="Choose a course",
        error_messages=asked_for("Choose a course."),
    )
    studio = forms.ModelChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        empty_label=None,
        error_messages=asked_for("Choose a studio."),
    )
    instructor = forms.ModelChoiceField(
        queryset=Person.objects.none(),
        to_field_name="uid",
        required=False,
        empty_label=None,
        error_messages=asked_for("Choose an instructor."),
    )
    first_day = day_field("Every week from", "Choose the first day.")
    weeks = forms.IntegerField(
        label="Meetings",
        min_value=2,
        max_value=MOST_WEEKS,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), WEEKS),
    )
    time = time_field("Class begins at", "Choose a time.", "By the studio's clock.")
    over_by = time_field("Over by", "Choose a time, or none.", "Empty: any time.", required=False)
    skip = SkipField(
        required=False,
        label="Days to leave out",
        widget=forms.CheckboxSelectMultiple,
        help_text="Each day left out adds a week at the end.",
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
            self.add_error(None, "Nobody teaches here yet: somebody needs the role instructor.")
        course, studio = given.get("course"), given.get("studio")
        if course and studio and studio not in course.studios.all():
            taught_at = " and ".join(each.name for each in course.studios.all())
            self.add_error("studio", f"{course} is taught at {taught_at}.")
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
    return f"{day:%a} {day.day} {day:%b}" + (f" ({why})" if why else "")


def days_sent(texts: Sequence[str]) -> list[dt.date] | None:
    """The days of a booking as the page sends them back; None where they are none of its days."""
    try:
        days = [dt.date.fromisoformat(text) for text in texts]
        for day in days:
            known_day(day)
    except (ValueError, forms.ValidationError):
        return None
    return days
