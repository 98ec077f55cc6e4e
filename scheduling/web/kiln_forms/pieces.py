"""What is said of pieces by whoever holds them: where they are, what happened to them, who took them."""

from __future__ import annotations

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from scheduling.models import Piece
from scheduling.services.class_pieces import MOST_EACH
from scheduling.services.piece_states import LONGEST_PLACE
from scheduling.services.pieces import LONGEST_DAMAGE, LONGEST_SIGNED
from scheduling.web.forms import PlainForm, asked_for
from scheduling.web.numbers import WholeField
from studios.models import Person

NO_SUGGESTIONS = {"autocomplete": "off"}


class PlaceForm(PlainForm):
    """Where pieces are put."""

    place = forms.CharField(
        max_length=LONGEST_PLACE,
        label=_("Where they lie"),
        help_text=_("A table, a box, a shelf."),
        error_messages=asked_for(_("Say where.")),
        widget=forms.TextInput(attrs=NO_SUGGESTIONS),
    )


class DamageForm(PlainForm):
    """What happened to a piece."""

    damage = forms.CharField(
        max_length=LONGEST_DAMAGE,
        label=_("What happened to it"),
        help_text=_("Its maker is told."),
        error_messages=asked_for(_("Say what happened to it.")),
        widget=forms.TextInput(attrs=NO_SUGGESTIONS),
    )
    lost = forms.BooleanField(required=False, label=_("It is broken or lost: nobody waits for it any more"))


class HandOverForm(PlainForm):
    """Who takes pieces, as they sign."""

    signed_by = forms.CharField(
        max_length=LONGEST_SIGNED,
        required=False,
        label=_("Taken by"),
        help_text=_("As they sign. Left out: their maker."),
        widget=forms.TextInput(attrs=NO_SUGGESTIONS),
    )


class CountsForm(PlainForm):
    """How many pieces each has made in a class."""

    def __init__(self, data: QueryDict | None = None, *, counts: dict[Person, int]) -> None:
        super().__init__(data)
        self.people = {f"made-{person.pk}": person for person in counts}
        for name, person in self.people.items():
            self.fields[name] = WholeField(
                label=person.name,
                required=False,
                initial=counts[person],
                min_value=0,
                max_value=MOST_EACH,
            )

    def counts(self) -> dict[Person, int]:
        """What the service takes; who is left out has none more."""
        return {
            person: count
            for name, person in self.people.items()
            if (count := self.cleaned_data[name]) is not None
        }


def chosen(data: QueryDict, pieces: list[Piece]) -> list[Piece]:
    """The pieces that were ticked; whatever else was sent is passed over."""
    wanted = set(data.getlist("piece"))
    return [piece for piece in pieces if str(piece.uid) in wanted]
