"""Own pieces for a firing that has room: their glass and thickness, filled in with what lies there."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import QuerySet
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from scheduling.models import Session
from scheduling.selectors.open_space import OpenFiring
from scheduling.services.kiln_jobs import LONGEST_NOTE, LONGEST_TITLE
from scheduling.web.kiln_forms.ask import OF_SIZES
from scheduling.web.setup_forms.base import SetUpQuestion
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import GlassType, Studio


class ClassField(forms.ModelChoiceField):
    """One of somebody's classes, each with when it is."""

    def label_from_instance(self, session: Session) -> str:
        """Beads, Tue 9 Mar 2027, 18:00 CST."""
        return f"{session.course.name}, {when(session.starts_at, session.studio)}"


class AddForm(SetUpQuestion):
    """What comes beside what lies there already."""

    measures = {"thickness_mm": "length"}

    session = ClassField(
        queryset=Session.objects.none(),
        to_field_name="uid",
        required=False,
        label=_("For a class"),
        empty_label=_("no class"),
        help_text=_(
            "It gives them its name. Who takes part is their maker, each in turn, if you name nobody."
        ),
        error_messages={"invalid_choice": _("Choose one of your classes, or none.")},
    )
    title = forms.CharField(
        max_length=LONGEST_TITLE,
        required=False,
        label=_("What it is called"),
        help_text=_("It stands on labels and on lists. Left out: your name does, or that of the class."),
    )
    glass = forms.ModelChoiceField(
        queryset=GlassType.objects.none(), to_field_name="slug", label=_("Glass"), empty_label=None
    )
    thickness_mm = forms.FloatField(
        label=_("Greatest thickness"),
        validators=[MinValueValidator(0.1), MaxValueValidator(300)],
    )
    note = forms.CharField(max_length=LONGEST_NOTE, required=False, label=_("Note"))

    def __init__(
        self,
        *args: Any,
        studio: Studio,
        glasses: QuerySet[GlassType],
        classes: QuerySet[Session],
        found: OpenFiring,
        **kwargs: Any,
    ) -> None:
        initial = {"glass": found.glass.slug, "thickness_mm": found.thickest_mm}
        super().__init__(*args, studio=studio, initial=initial, **kwargs)
        self.size_errors: list[str] = []
        glass = self.fields["glass"]
        if isinstance(glass, forms.ModelChoiceField):
            glass.queryset = glasses
        self._offer_classes(classes)
        self.fields["thickness_mm"].error_messages["required"] = _("Say how thick the pieces are.")

    def _offer_classes(self, classes: QuerySet[Session]) -> None:
        field = self.fields["session"]
        if not classes.exists():
            del self.fields["session"]
        elif isinstance(field, forms.ModelChoiceField):
            field.queryset = classes

    @classmethod
    def unchecked(cls, data: QueryDict, **facts: Any) -> AddForm:
        """What was typed so far, before anything of it is looked at."""
        form = cls(None, **facts)
        form.initial = {name: data.get(name, "") for name in form.fields}
        return form

    def refuse(self, error: LehrbookError) -> None:
        """A refusal stands beside its field, or beside the sizes; what was typed stays."""
        if error.field in OF_SIZES:
            self.size_errors.append(str(error))
        else:
            self.add_error(error.field if error.field in self.fields else None, str(error))

    @property
    def wrong(self) -> bool:
        return bool(self.errors or self.size_errors)
