"""What a calendar link is to be about, and what it shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

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
    yield Thing(group=gettext("Yourself"), name=gettext("my week"), about=About.PERSON)
    for studio in studios_of(person).order_by("name"):
        yield Thing(group=gettext("A studio"), name=studio.name, about=About.STUDIO, studio=studio)
    for studio in duty_studios_of(person):
        group = gettext("What is to be done")
        yield Thing(group=group, name=duties_at(studio), about=About.DUTIES, studio=studio)
    for one in visible.equipment_of(person).filter(active=True):
        group = gettext("Equipment at %(studio)s") % {"studio": one.studio.name}
        yield Thing(group=group, name=one.name, about=About.EQUIPMENT, equipment=one)


def duties_at(studio: Studio) -> str:
    """What is to be done at a studio, as the name of a calendar."""
    return gettext("duties at %(studio)s") % {"studio": studio.name}


def rings(minutes: int) -> str:
    """How long before a duty somebody hears of it."""
    if not minutes:
        return gettext("when it begins")
    return gettext("%(long)s before") % {"long": long(minutes)}


class LinkForm(PlainForm):
    """A name by which a person knows a link again, what it is about and what it shows."""

    label = forms.CharField(
        max_length=60,
        label=_("What is the link for?"),
        help_text=_("Such as: my phone."),
        error_messages=asked_for(_("Say what the link is for.")),
    )
    about = forms.ChoiceField(
        required=False, label=_("What is it about?"), error_messages=asked_for(_("Choose one of these."))
    )
    shows = forms.MultipleChoiceField(
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label=_("Show only"),
        help_text=_(
            "Tick none, and all is shown. Your week has no charges and outages in it, and the calendar of a "
            "studio or of equipment no duties and pick-up."
        ),
        error_messages=asked_for(_("Choose among these.")),
    )
    alarm = forms.ChoiceField(
        required=False,
        label=_("A duty rings"),
        choices=lambda: [(NO_ALARM, _("not at all")), *((str(each), rings(each)) for each in ALARMS_MIN)],
        initial=str(ALARM_MIN),
        error_messages=asked_for(_("Choose one of these.")),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.things = {thing.value: thing for thing in things_of(person)}
        grouped: dict[str, list[tuple[str, str]]] = {}
        for value, thing in self.things.items():
            grouped.setdefault(thing.group, []).append((value, thing.name))
        self._offer("about", list(grouped.items()))
        self._offer(
            "shows", [(kind.value, gettext(name)) for kind, name in PLURAL.items() if kind in self._kinds()]
        )

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
