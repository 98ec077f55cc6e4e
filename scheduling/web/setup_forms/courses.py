"""Courses with their needs; sign-offs; the safety text; the way to another studio."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext_lazy as _

from scheduling.models import Course
from scheduling.web.numbers import WholeField
from scheduling.web.setup_forms.base import Part, SetUpForm, SetUpQuestion
from studios.models import EquipmentKind, GlassType, Studio
from studios.thermal import Recipe, Shape

ONE_FIRING = {EquipmentKind.KILN, EquipmentKind.ANNEALER}
# A glory hole brings its own.
BROUGHT = {EquipmentKind.BENCH, EquipmentKind.PIPE_WARMER}
NEEDS = {
    EquipmentKind.FURNACE: _("Places at a furnace"),
    EquipmentKind.GLORY_HOLE: _("Glory holes, each with its bench and pipe warmer"),
    EquipmentKind.TORCH: _("Torches"),
    EquipmentKind.ANNEALER: _("Annealer for its pieces (0 or 1)"),
    EquipmentKind.KILN: _("Kiln for its pieces (0 or 1)"),
    EquipmentKind.COLD_STATION: _("Cold stations"),
    EquipmentKind.BENCH: _("Benches without a glory hole"),
    EquipmentKind.PIPE_WARMER: _("Pipe warmers without a glory hole"),
}


SHAPES = [
    ("", _("Choose a shape")),
    (Shape.PLATE_ON_SHELF.value, _("plate on a shelf")),
    (Shape.PLATE_FREE.value, _("plate, free on both sides")),
    (Shape.VESSEL.value, _("vessel: the wall of a hollow form")),
    (Shape.CYLINDER.value, _("cylinder")),
    (Shape.SPHERE.value, _("sphere")),
    (Shape.BEAD.value, _("bead")),
]
RECIPES = [
    (Recipe.ANNEAL.value, _("anneal, from hot")),
    (Recipe.BATCH_ANNEAL.value, _("anneal, from cold")),
    (Recipe.FULL_FUSE.value, _("full fuse")),
    (Recipe.TACK_FUSE.value, _("tack fuse")),
    (Recipe.SLUMP.value, _("slump")),
    (Recipe.FIRE_POLISH.value, _("fire polish")),
    (Recipe.KILN_CAST.value, _("kiln cast")),
]


def need(kind: str) -> str:
    """The name of the field that asks for a kind."""
    return f"need_{kind}"


class CourseForm(SetUpForm):
    """A kind of class: length, seats, pieces, and what it needs."""

    shape = forms.TypedChoiceField(choices=SHAPES, label=_("Shape of a piece"))
    recipe = forms.TypedChoiceField(
        choices=RECIPES,
        initial=Recipe.ANNEAL.value,
        label=_("What its kiln runs after the class"),
        help_text=_("An annealer anneals in any case."),
    )
    measures = {"thickness_mm": "length", "foot_mm": "length", "piece_footprint_cm2": "area"}

    class Meta:
        model = Course
        fields = [
            *["name", "description", "minutes", "seats", "min_seats", "glass", "shape", "thickness_mm"],
            *["recipe", "pieces_per_seat", "piece_footprint_cm2", "price"],
            *["setup_min", "cleanup_min", "assistants", "foot_mm", "glass_kg_per_seat", "requires"],
        ]
        labels = {
            "name": _("Name"),
            "description": _("What it is"),
            "minutes": _("Length (minutes)"),
            "seats": _("Seats"),
            "min_seats": _("Takes place with at least"),
            "glass": _("Glass"),
            "thickness_mm": _("Thickest place"),
            "pieces_per_seat": _("Pieces for each seat"),
            "piece_footprint_cm2": _("Room of one piece on the shelf"),
            "price": _("Price of a seat"),
            "setup_min": _("Set-up before it (minutes)"),
            "cleanup_min": _("Clean-up after it (minutes)"),
            "assistants": _("Assistants beside the instructor"),
            "foot_mm": _("Foot of a vessel"),
            "glass_kg_per_seat": _("Glass from the pot for each seat (kg)"),
            "requires": _("Builds on"),
        }
        help_texts = {
            "name": _("Each name once in the network."),
            "thickness_mm": _(
                "It decides how long the night is: twice as thick takes about four times as long."
            ),
            "price": _("In the currency of the studio; empty: none is asked."),
            "foot_mm": _("Where it is thicker than the wall."),
            "glass_kg_per_seat": _("Gathers and waste; 0: it is not counted. Common practice, no source."),
            "requires": _("Courses that a student has taken before."),
        }
        widgets = {
            "description": forms.Textarea(attrs={"rows": 3}),
            "requires": forms.CheckboxSelectMultiple,
        }

    parts = (
        Part(title=_("The class"), names=["name", "description", "minutes", "seats", "min_seats", "price"]),
        Part(
            title=_("What it needs"),
            note=_("Which piece of equipment it gets, and from when, is found when it is booked."),
            names=[need(kind) for kind in NEEDS],
        ),
        Part(
            title=_("Its pieces"),
            note=_("From these the firing is worked out, and when it may be unloaded."),
            names=[
                *["glass", "shape", "thickness_mm", "pieces_per_seat", "piece_footprint_cm2", "recipe"],
            ],
        ),
        Part(
            title=_("More"),
            names=["setup_min", "cleanup_min", "assistants", "foot_mm", "glass_kg_per_seat", "requires"],
            aside=True,
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        needed = dict(self.instance.needs.values_list("kind", "count")) if self.instance.pk else {}
        has = set(self.studio.equipment.filter(active=True).values_list("kind", flat=True))
        for kind, label in NEEDS.items():
            if kind in has or kind in needed:
                self.fields[need(kind)] = WholeField(
                    label=label,
                    initial=needed.get(kind, 0),
                    required=False,
                    validators=[MinValueValidator(0), MaxValueValidator(1 if kind in ONE_FIRING else 99)],
                )
        requires = self.fields["requires"]
        if isinstance(requires, forms.ModelMultipleChoiceField):
            requires.queryset = Course.objects.filter(active=True).exclude(pk=self.instance.pk)
            if not requires.queryset.exists():
                del self.fields["requires"]
        glass = self.fields["glass"]
        if isinstance(glass, forms.ModelChoiceField):
            glass.queryset, glass.empty_label = GlassType.objects.order_by("name"), _("Choose a glass")

    def clean(self) -> dict[str, Any]:
        """A class without any need would hold nothing."""
        given = super().clean()
        asked = [name for name in self.fields if name.startswith("need_")]
        if not self.errors and not any(given.get(name) for name in asked):
            self.add_error(None, _("Say what it needs: at least one piece of equipment."))
        return given

    def needs(self) -> dict[str, int]:
        """So many of each kind."""
        return {kind: self.cleaned_data.get(need(kind)) or 0 for kind in NEEDS}


class SignOffForm(SetUpQuestion):
    """For which kinds of equipment somebody is signed off."""

    kinds = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label=_("Signed off for")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        here = set(self.studio.equipment.values_list("kind", flat=True)) | set(self.initial.get("kinds", ()))
        field = self.fields["kinds"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = [(kind.value, kind.label) for kind in EquipmentKind if kind in here]


class TextForm(SetUpQuestion):
    """A new version of the safety text."""

    body = forms.CharField(
        label=_("The text"),
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 14}),
        help_text=_("Plain text; an empty line begins a new paragraph."),
    )


class WayForm(SetUpQuestion):
    """How long somebody needs to another studio, and back."""

    other = forms.ModelChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        label=_("Studio"),
        empty_label=_("Choose a studio"),
        error_messages={"invalid_choice": _("Choose another studio of the network.")},
    )
    minutes = WholeField(
        label=_("Minutes there"), validators=[MinValueValidator(0), MaxValueValidator(24 * 60)]
    )
    back = WholeField(
        label=_("Minutes back"),
        required=False,
        help_text=_("Empty: as long as the way there."),
        validators=[MinValueValidator(0), MaxValueValidator(24 * 60)],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["other"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = Studio.objects.exclude(pk=self.studio.pk).order_by("name")

    def asked(self) -> dict[str, Any]:
        given = self.cleaned_data
        return given | {"back": given["minutes"] if given["back"] is None else given["back"]}
