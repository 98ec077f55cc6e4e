"""Rows of sizes: so many pieces of one size, in the reader's unit, and whose they are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Q, QuerySet
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from scheduling.models import JobSize
from scheduling.services.kiln_jobs import LONGEST_MM, MOST_PIECES, SHORTEST_MM, SizeAsked
from scheduling.web.setup_forms.base import SetUpQuestion
from scheduling.wording import sized
from studios.models import Mould, Person, Studio

MOST_ROWS = 30
SIDES = [MinValueValidator(SHORTEST_MM), MaxValueValidator(LONGEST_MM)]


class MouldField(forms.ModelChoiceField):
    """A mould, with its size in the reader's unit."""

    def label_from_instance(self, mould: Mould) -> str:
        """Its name, how large it lies on the shelf, and where it is."""
        size = sized(mould.length_mm, mould.width_mm, mould.studio, is_round=mould.round)
        return f"{mould.name}, {size}, {mould.studio.name}"


class SizeForm(SetUpQuestion):
    """So many pieces of one size. A row in which nothing is written is passed over."""

    measures = {"length_mm": "length", "width_mm": "length"}

    count = forms.IntegerField(
        label=_("How many"), validators=[MinValueValidator(1), MaxValueValidator(MOST_PIECES)]
    )
    round = forms.BooleanField(label=_("Round"), required=False)
    length_mm = forms.IntegerField(label=_("Length or diameter"), validators=SIDES)
    width_mm = forms.IntegerField(
        label=_("Width"), required=False, help_text=_("Empty: as wide as long."), validators=SIDES
    )
    mould = MouldField(
        queryset=Mould.objects.none(),
        to_field_name="uid",
        required=False,
        label=_("Sinks into"),
        empty_label=_("no mould"),
        error_messages={"invalid_choice": _("Choose one of the moulds.")},
    )
    name = forms.CharField(max_length=40, required=False, label=_("What they are"))
    makers = forms.CharField(
        required=False,
        label=_("Whose they are"),
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "One name a line, in the order of the pieces; an e-mail address where somebody has an account "
            "here. Left out: yours."
        ),
    )

    def __init__(
        self, *args: Any, studio: Studio, moulds: QuerySet[Mould], makers: QuerySet[Person], **kwargs: Any
    ) -> None:
        super().__init__(*args, studio=studio, use_required_attribute=False, **kwargs)
        self.known = makers
        self.empty_permitted = self.blank
        field = self.fields["mould"]
        if not moulds.exists():
            del self.fields["mould"]
        elif isinstance(field, forms.ModelChoiceField):
            field.queryset = moulds

    @property
    def blank(self) -> bool:
        """Nothing is written in it."""
        return not any(self.data.get(self.add_prefix(name)) for name in self.fields)

    def clean(self) -> dict[str, Any]:
        """What is round, or has no width of its own, is as wide as it is long."""
        given = super().clean() or {}
        if given.get("length_mm") and (given.get("round") or given.get("width_mm") is None):
            given["width_mm"] = given["length_mm"]
        return given

    def asked(self) -> SizeAsked | None:
        """What the service takes; None where nothing was written."""
        if self.blank:
            return None
        given = self.cleaned_data
        return SizeAsked(
            count=given["count"],
            length_mm=given["length_mm"],
            width_mm=given["width_mm"],
            round=given["round"],
            name=given["name"],
            mould=given.get("mould"),
            makers=tuple(self._makers(given["makers"].splitlines())),
        )

    def _makers(self, lines: Iterable[str]) -> Iterable[Person | str]:
        """An address that is known here is an account, whatever else is written is a name."""
        said = [line.strip() for line in lines if line.strip()]
        addressed = [line.lower() for line in said if "@" in line]
        accounts = {person.email.lower(): person for person in self.known.filter(_addressed(addressed))}
        return (accounts.get(line.lower(), line) for line in said)


def _addressed(addresses: Sequence[str]) -> Q:
    found = Q(pk__in=[])
    for address in addresses[:MOST_PIECES]:
        found |= Q(email__iexact=address)
    return found


def size_forms(
    data: QueryDict | None,
    *,
    sizes: Sequence[JobSize] = (),
    checked: bool = True,
    **facts: Any,
) -> list[SizeForm]:
    """As many rows as were sent, one more where another was asked for; at first those that there are.

    `checked`: what is written in them is looked at; where only another row is wanted it is not.
    """
    rows = [_initial(size) for size in sizes]
    if data is None:
        return [SizeForm(initial=row, prefix=f"size{at}", **facts) for at, row in enumerate(rows or [{}])]
    if not checked:
        return [_typed(data, at, **facts) for at in range(min(rows_sent(data) + 1, MOST_ROWS))]
    return [
        SizeForm(data, initial=rows[at] if at < len(rows) else {}, prefix=f"size{at}", **facts)
        for at in range(rows_sent(data))
    ]


def rows_sent(data: QueryDict) -> int:
    """How many rows stood on the page; whatever else an address says is passed over."""
    said = data.get("rows", "1")
    return min(max(int(said), 1), MOST_ROWS) if said.isascii() and said.isdigit() else 1


def _typed(data: QueryDict, at: int, **facts: Any) -> SizeForm:
    names = SizeForm.base_fields
    typed = {name: data[key] for name in names if (key := f"size{at}-{name}") in data}
    return SizeForm(initial=typed, prefix=f"size{at}", **facts)


def _initial(size: JobSize) -> dict[str, Any]:
    owner = size.job.owner
    pieces = size.pieces.select_related("maker").order_by("number")
    makers = [piece.maker_name or (piece.maker or owner).email for piece in pieces]
    return {
        "count": size.count,
        "round": size.round,
        "length_mm": size.length_mm,
        "width_mm": size.width_mm,
        "mould": size.mould.uid if size.mould else None,
        "name": size.name,
        "makers": "" if set(makers) == {owner.email} else "\r\n".join(makers),
    }
