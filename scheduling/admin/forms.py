"""What is asked for in the admin: a session, or a seat. A service answers, and its refusal stands beside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model, Q, QuerySet
from django.utils import timezone

from scheduling.engine.clock import moment, wall_minutes
from scheduling.models import BookingStatus, Course, Seat, Session
from scheduling.services.booking import book_session
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from scheduling.snapshot import require_reachable
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import Equipment, EquipmentKind, Person, Role, Studio
from studios.selectors import may, studios_of

STUDIO_CLOCK = "By the studio's clock. An hour that the clocks show twice means the first."


def _known_day(day: dt.date) -> None:
    try:
        require_reachable(dt.datetime.combine(day, dt.time(12), dt.UTC))
    except LehrbookError as error:
        raise ValidationError(str(error)) from error


def _day(**facts: Any) -> forms.DateField:
    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    return forms.DateField(widget=widget, validators=[_known_day], **facts)


def _time(**facts: Any) -> forms.TimeField:
    widget = forms.TimeInput(format="%H:%M", attrs={"type": "time"})
    return forms.TimeField(widget=widget, input_formats=["%H:%M"], **facts)


def sentences(error: LehrbookError) -> list[str]:
    """All that stands in the way, one sentence each."""
    reasons = error.facts.get("reasons")
    if not isinstance(reasons, list):
        return [str(error)]
    return [str(reason["sentence"]) for reason in reasons]


class AskForm(forms.ModelForm):
    """A form that writes nothing itself: what it asks for, a service writes as a whole, or refuses."""

    actor: ClassVar[Person]
    # The services' names of what is at fault, where the form has other fields for it.
    beside: ClassVar[Mapping[str, str]] = {"starts_at": "time"}

    def ask(self) -> Model:
        """What the service has written. Raises LehrbookError."""
        raise NotImplementedError

    def offer(self, **rows: QuerySet[Any]) -> None:
        """Fill the choices."""
        for name, offered in rows.items():
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = offered

    def _post_clean(self) -> None:
        """In the place of Django's checks of a single row: the service checks everything, and writes."""
        if self.errors:
            return
        try:
            self.instance = self.ask()
        except LehrbookError as error:
            named = self.beside.get(error.field or "", error.field)
            self.add_error(named if named in self.fields else None, ValidationError(sentences(error)))

    def save(self, commit: bool = True) -> Any:  # noqa: ARG002, FBT001, FBT002 - Django's signature
        """The row is written already."""
        return self.instance

    def save_m2m(self) -> None:
        """Nothing is left to write."""


class SessionForm(AskForm):
    """A class to be booked, as an instructor or a manager asks for it on the pages."""

    course = forms.ModelChoiceField(queryset=Course.objects.none())
    studio = forms.ModelChoiceField(queryset=Studio.objects.none())
    instructor = forms.ModelChoiceField(queryset=Person.objects.none())
    day = _day()
    time = _time(label="Begins at", help_text=STUDIO_CLOCK)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        studios = _studios_where(self.actor, "book")
        teaching = Q(memberships__role=Role.INSTRUCTOR, memberships__studio__in=studios)
        self.offer(
            course=Course.objects.filter(active=True, studios__in=studios).distinct(),
            studio=studios,
            instructor=Person.objects.filter(teaching, is_active=True).distinct(),
        )

    def ask(self) -> Session:
        given = self.cleaned_data
        return book_session(
            actor=self.actor,
            course=given["course"],
            studio=given["studio"],
            instructor=given["instructor"],
            starts_at=_instant(given["day"], given["time"], given["studio"]),
        )


class SessionChoice(forms.ModelChoiceField):
    """A class with its start by its studio's clock."""

    def label_from_instance(self, obj: Session) -> str:
        return f"{obj.course.name}, {when(obj.starts_at, obj.studio)}, {obj.studio.name}"


class TorchChoice(forms.ModelChoiceField):
    """A torch with its studio."""

    def label_from_instance(self, obj: Equipment) -> str:
        return f"{obj.name}, {obj.studio.name}"


class SeatForm(AskForm):
    """A seat: in a class, or at a torch in open bench time."""

    beside = {"starts_at": "starts", "ends_at": "ends"}

    person = forms.ModelChoiceField(queryset=Person.objects.none())
    session = SessionChoice(
        queryset=Session.objects.none(),
        required=False,
        label="Class",
        help_text="Leave it empty for open bench time.",
    )
    torch = TorchChoice(
        queryset=Equipment.objects.none(),
        required=False,
        help_text="In a class: one of its torches; left empty, the first that is free.",
    )
    day = _day(required=False, help_text="In open bench time only, and so are the hours.")
    starts = _time(required=False, label="From", help_text=STUDIO_CLOCK)
    ends = _time(
        required=False, label="To", help_text="By the studio's clock; not after the start: on the next day."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        studios = studios_of(self.actor)
        ahead = Session.objects.filter(status=BookingStatus.BOOKED, starts_at__gt=timezone.now())
        torches = Equipment.objects.filter(kind=EquipmentKind.TORCH, active=True)
        self.offer(
            person=_people_of(self.actor),
            session=ahead.filter(studio__in=studios).select_related("course", "studio"),
            torch=torches.filter(studio__in=studios).select_related("studio").order_by("studio", "number"),
        )

    def clean(self) -> dict[str, Any]:
        """A class has its own hours; bench time needs a torch and hours."""
        given = super().clean() or {}
        hours = [given.get(name) for name in ("day", "starts", "ends")]
        if self.errors:
            return given
        if given["session"] and any(hours):
            self.add_error("session", "A class has its own hours: leave the day and the hours empty.")
        elif not given["session"] and not all([given["torch"], *hours]):
            self.add_error(None, "Choose a class; or, for open bench time, a torch, a day and both hours.")
        return given

    def ask(self) -> Seat:
        given = self.cleaned_data
        who = {"actor": self.actor, "person": given["person"]}
        if given["session"]:
            return reserve_class_seat(**who, session=given["session"], torch=given["torch"])
        studio, later = given["torch"].studio, dt.timedelta(days=given["ends"] <= given["starts"])
        return reserve_bench_torch(
            **who,
            torch=given["torch"],
            starts_at=_instant(given["day"], given["starts"], studio),
            ends_at=_instant(given["day"] + later, given["ends"], studio, field="ends_at"),
        )


def _instant(day: dt.date, time: dt.time, studio: Studio, field: str = "starts_at") -> dt.datetime:
    """The instant of a studio's wall time. Raises NoSuchWallTime, beside the field that it was typed in."""
    try:
        return moment(wall_minutes(day, time, studio.zone))
    except LehrbookError as error:
        error.facts["field"] = field
        raise


def _studios_where(actor: Person, action: str) -> QuerySet[Studio]:
    allowed = [studio.pk for studio in studios_of(actor) if may(actor, action, studio)]
    return Studio.objects.filter(pk__in=allowed)


def _people_of(actor: Person) -> QuerySet[Person]:
    """Whom somebody may seat: themselves, and the people of the studios where they seat others."""
    active = Person.objects.filter(is_active=True)
    if actor.is_superuser:
        return active
    studios = _studios_where(actor, "reserve-for-others")
    return active.filter(Q(pk=actor.pk) | Q(memberships__studio__in=studios)).distinct()
