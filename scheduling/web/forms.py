"""What the pages ask for. The rules are the services'; a form only reads what was typed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.text import get_text_list
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from scheduling.engine.clock import wall_minutes
from scheduling.engine.spans import Span
from scheduling.models import Course
from scheduling.selectors.offers import ORDERS
from scheduling.services.bench import LONGEST_MIN, SHORTEST_MIN
from scheduling.web.numbers import bounds_said
from scheduling.web.ranks import ORDERS_SAID
from scheduling.web.weeks import FIRST, LAST
from scheduling.wording import say
from studios.errors import LehrbookError
from studios.models import Equipment, Person, Studio
from studios.models.beside import plainly

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

MOST_DAYS = 31
BENCH_TIME_LASTS = _(
    "Bench time lasts from %(least)s minutes to %(most)s hours; an end before its start is the next day’s."
)


class DayInput(forms.DateInput):
    """A day, picked or typed as 2027-03-09."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class TimeInput(forms.TimeInput):
    """A time of the studio's clock, to the minute."""

    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


def known_day(day: dt.date) -> None:
    if not FIRST <= day <= LAST:
        raise forms.ValidationError(say("A day lies between {first} and {last}.", first=FIRST, last=LAST))


def asked_for(missing: StrOrPromise) -> dict[str, StrOrPromise]:
    """What is said where nothing was chosen, or nothing that is offered."""
    return {"required": missing, "invalid_choice": missing, "invalid": missing}


def day_field(label: StrOrPromise, missing: StrOrPromise) -> forms.DateField:
    return forms.DateField(
        widget=DayInput(), label=label, validators=[known_day], error_messages=asked_for(missing)
    )


def time_field(
    label: StrOrPromise, missing: StrOrPromise, help_text: StrOrPromise = "", *, required: bool = True
) -> forms.TimeField:
    return forms.TimeField(
        widget=TimeInput(),
        label=label,
        help_text=help_text,
        error_messages=asked_for(missing),
        required=required,
    )


class PlainForm(forms.Form):
    """A form that also takes a service's refusal, beside the field it names or above all."""

    def refuse(self, error: LehrbookError) -> None:
        """Show a refusal; what was typed stays."""
        self.refuse_at(error.field, error)

    def refuse_at(self, field: str | None, error: LehrbookError) -> None:
        """Beside a field, where there is such a one."""
        if field in self.fields:
            self.add_error(field, list(bounds_said(plainly(error).error_list)))
        else:
            self.add_error(None, str(error))


class SignInForm(AuthenticationForm):
    """E-mail and password."""

    error_messages = {
        "invalid_login": _("E-mail and password do not belong together. Capitals matter in the password."),
        "inactive": _("This person can no longer sign in; ask the studio's manager."),
    }

    def __init__(self, request: HttpRequest | None = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(request, *args, **kwargs)
        self.fields["username"].label = _("E-mail")
        self.fields["username"].error_messages["required"] = _("Write your e-mail address.")
        self.fields["password"].error_messages["required"] = _("Write your password.")


def taught_only_at(course: Course) -> str:
    """Where a course is taught, for who asked for it elsewhere."""
    studios = get_text_list([studio.name for studio in course.studios.all()], gettext("and"))
    return gettext("%(course)s is taught at %(studios)s.") % {"course": course, "studios": studios}


def nobody_teaches_at(studios: Iterable[Studio]) -> str:
    """What is lacking where nobody has the role to teach."""
    names = get_text_list([studio.name for studio in studios], gettext("or"))
    return gettext("Nobody teaches at %(studios)s yet: somebody needs the role instructor there.") % {
        "studios": names
    }


class ClassForm(PlainForm):
    """An instructor's wish: this course, at these studios, on any of these days, at this time."""

    course = forms.ModelChoiceField(
        queryset=Course.objects.none(),
        to_field_name="slug",
        label=_("Course"),
        empty_label=_("Choose a course"),
        error_messages=asked_for(_("Choose a course.")),
    )
    studios = forms.ModelMultipleChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        widget=forms.CheckboxSelectMultiple,
        label=_("Studio"),
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
    first_day = day_field(_("From"), _("Choose the first day."))
    last_day = day_field(_("To"), _("Choose the last day."))
    time = time_field(_("Class begins at"), _("Choose a time."), _("By the studio's clock."))
    over_by = time_field(_("Over by"), _("Choose a time, or none."), _("Empty: any time."), required=False)
    order = forms.ChoiceField(
        required=False,
        label=_("What counts"),
        choices=[
            ("", _("my time, day by day")),
            *((word, ORDERS_SAID[measure]) for word, measure in ORDERS.items()),
        ],
        error_messages=asked_for(_("Choose what counts.")),
    )

    def __init__(
        self, *args: Any, studios: QuerySet[Studio], instructors: QuerySet[Person], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        courses = Course.objects.filter(active=True, studios__in=studios).distinct()
        self._choices("course", courses)
        self._choices("studios", studios)
        self._choices("instructor", instructors)
        self.bookable, self.instructors = studios, instructors
        if instructors.count() < 2:
            del self.fields["instructor"]

    def _choices(self, name: str, rows: QuerySet[Any]) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = rows

    def clean(self) -> dict[str, Any]:
        """The days are in order, and few enough to read; where only one may teach, nobody is asked who."""
        given = super().clean() or {}
        given["instructor"] = given.get("instructor") or self.instructors.first()
        if given["instructor"] is None:
            self.add_error(None, nobody_teaches_at(self.bookable))
        if given.get("course") and given.get("studios") and not self.teaching_studios():
            self.add_error("studios", taught_only_at(given["course"]))
        first, last = given.get("first_day"), given.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", _("The last day must not be before the first."))
        elif first and last and (last - first).days >= MOST_DAYS:
            self.add_error("last_day", _("Ask for at most %(days)d days at once.") % {"days": MOST_DAYS})
        return given

    def teaching_studios(self) -> list[Studio]:
        """Those of the studios asked for at which the course may be taught."""
        given = self.cleaned_data
        taught_at = set(given["course"].studios.all())
        return [studio for studio in given["studios"] if studio in taught_at]


class TorchForm(PlainForm):
    """When somebody wants to sit at the torch, by the studio's clock."""

    studio = forms.ModelChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        empty_label=None,
        label=_("Studio"),
        error_messages=asked_for(_("Choose a studio.")),
    )
    day = day_field(_("Day"), _("Choose a day."))
    starts = time_field(_("From"), _("Choose when to begin."))
    ends = time_field(_("To"), _("Choose when to end."))

    def __init__(self, *args: Any, studios: QuerySet[Studio], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["studio"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = studios

    def span(self) -> Span | None:
        """The minutes meant; an end not after the start is the next day's. None: an error stands beside."""
        given = self.cleaned_data
        zone: ZoneInfo = given["studio"].zone
        later = given["day"] + dt.timedelta(days=given["ends"] <= given["starts"])
        start = self._minute("starts", given["day"], given["starts"], zone)
        end = self._minute("ends", later, given["ends"], zone)
        if start is None or end is None:
            return None
        if not SHORTEST_MIN <= end - start <= LONGEST_MIN:
            self.add_error("ends", BENCH_TIME_LASTS % {"least": SHORTEST_MIN, "most": LONGEST_MIN // 60})
            return None
        return start, end

    def _minute(self, name: str, day: dt.date, time: dt.time, zone: ZoneInfo) -> int | None:
        try:
            return wall_minutes(day, time, zone)
        except LehrbookError as error:
            self.add_error(name, str(error))
            return None


class SeatForm(PlainForm):
    """A seat in a class: which torch, where there are torches; for whom, where somebody may say so."""

    torch = forms.ModelChoiceField(
        queryset=Equipment.objects.none(),
        required=False,
        to_field_name="uid",
        label=_("Torch"),
        empty_label=_("any free torch"),
        error_messages=asked_for(_("Choose one of the free torches.")),
    )
    person = forms.ModelChoiceField(
        queryset=Person.objects.none(),
        required=False,
        to_field_name="uid",
        label=_("For"),
        empty_label=_("myself"),
        error_messages=asked_for(_("Choose a person.")),
    )

    acknowledged = forms.IntegerField(required=False, min_value=1, max_value=10**6)
    # A seat that has been kept too often is booked at once.
    at_once = False

    def __init__(
        self,
        *args: Any,
        torches: QuerySet[Equipment],
        people: QuerySet[Person],
        teaches: bool = False,
        **kwargs: Any,
    ) -> None:
        """Who teaches the class seats others and never themselves."""
        super().__init__(*args, **kwargs)
        for name, rows in (("torch", torches), ("person", people)):
            field = self.fields[name]
            if not rows.exists():
                del self.fields[name]
            elif isinstance(field, forms.ModelChoiceField):
                field.queryset = rows
        person = self.fields.get("person")
        if teaches and isinstance(person, forms.ModelChoiceField):
            person.required, person.empty_label = True, _("Choose a person")


def today_at(studio: Studio) -> dt.date:
    """The day it is by a studio's clock."""
    return timezone.now().astimezone(studio.zone).date()
