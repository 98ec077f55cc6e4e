"""What a calendar link is to be about, and what it shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms

from scheduling.models import About
from scheduling.selectors import visible
from scheduling.selectors.calendar_events import ALARM_MIN
from scheduling.selectors.feed_links import KINDS, PLURAL, duty_studios_of
from scheduling.web.forms import PlainForm, asked_for
from scheduling.wording import long
from studios.models import Equipment, Person, Studio
from studios.selectors import studios_of

ALARMS_MIN = (0, 10, 15, 30, 60, 120, 24 * 60)
NO_ALARM = "none"


@dataclass(frozen=True, kw_only=True)
class Thing:
    """What a calendar may be about, as one choice of a list."""

    group: str
    name: str
    about: About
    studio: Studio | None = None
    equipment: Equipment | None = None

    @property
    def value(self) -> str:
        """person, studio:quillback, duties:quillback, equipment:<uid>."""
        which = self.studio.slug if self.studio else str(self.equipment.uid) if self.equipment else ""
        return f"{self.about}:{which}" if which else str(self.about)


def things_of(person: Person) -> Iterator[Thing]:
    """All that somebody may make a link to: the own week, and what happens at the own studios."""
    yield Thing(group="Yourself", name="my week", about=About.PERSON)
    for studio in studios_of(person).order_by("name"):
        yield Thing(group="A studio", name=studio.name, about=About.STUDIO, studio=studio)
    for studio in duty_studios_of(person):
        name = f"duties at {studio.name}"
        yield Thing(group="What is to be done", name=name, about=About.DUTIES, studio=studio)
    for one in visible.equipment_of(person).filter(active=True):
        group = f"Equipment at {one.studio.name}"
        yield Thing(group=group, name=one.name, about=About.EQUIPMENT, equipment=one)


class LinkForm(PlainForm):
    """A name by which a person knows a link again, what it is about and what it shows."""

    label = forms.CharField(
        max_length=60,
        label="What is the link for?",
        help_text="Such as: my phone.",
        error_messages=asked_for("Say what the link is for."),
    )
    about = forms.ChoiceField(
        required=False, label="What is it about?", error_messages=asked_for("Choose one of these.")
    )
    shows = forms.MultipleChoiceField(
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Show only",
        help_text="None ticked: all that there is. No charges and outages are in your week, "
        "no duties and pick-up in the calendar of a studio.",
        error_messages=asked_for("Choose among these."),
    )
    alarm = forms.ChoiceField(
        required=False,
        label="A duty rings",
        choices=[(NO_ALARM, "not at all"), ("0", "when it begins")]
        + [(str(minutes), f"{long(minutes)} before") for minutes in ALARMS_MIN[1:]],
        initial=str(ALARM_MIN),
        error_messages=asked_for("Choose one of these."),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.things = {thing.value: thing for thing in things_of(person)}
        grouped: dict[str, list[tuple[str, str]]] = {}
        for value, thing in self.things.items():
            grouped.setdefault(thing.group, []).append((value, thing.name))
        self._offer("about", list(grouped.items()))
        self._offer("shows", [(kind.value, name) for kind, name in PLURAL.items() if kind in self._kinds()])

    def _kinds(self) -> set[str]:
        return {kind for thing in self.things.values() for kind in KINDS[thing.about]}

    def _offer(self, name: str, choices: list[Any]) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ChoiceField):
            field.choices = choices

    def facts(self) -> dict[str, Any]:
        """What the service is told."""
        given = self.cleaned_data
        thing = self.things[given["about"] or About.PERSON.value]
        alarm = given["alarm"] or str(ALARM_MIN)
        return {
            "label": given["label"],
            "about": thing.about,
            "studio": thing.studio,
            "equipment": thing.equipment,
            "shows": given["shows"],
            "alarm_min": None if alarm == NO_ALARM else int(alarm),
        }
