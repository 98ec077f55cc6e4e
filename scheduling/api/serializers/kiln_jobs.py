"""Kiln jobs: what is asked, the answers, and what is booked."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from scheduling.api.fields import (
    InstantField,
    MinutesField,
    NumberField,
    SlugField,
    TextField,
    TruthField,
    UidField,
    WholeField,
)
from scheduling.api.kiln_plans import planned, refused
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.people import PersonLineSerializer
from scheduling.api.strict import Strict, require_order
from scheduling.models import Firing, JobSize, JobStep, KilnAim, KilnAnswer, KilnJob, Load
from scheduling.models.kiln_jobs import ROUTES
from scheduling.selectors import visible
from scheduling.selectors.kiln_jobs import Sought, how_it_stands
from scheduling.selectors.kiln_ready import HandedBack, handed_back
from scheduling.selectors.open_space import OpenFiring
from scheduling.selectors.taught import classes_taught
from scheduling.services.kiln_jobs import SizeAsked
from studios.models import Mould
from studios.selectors import studios_of


class MouldSerializer(serializers.ModelSerializer[Mould]):
    """Moulds of one form: how many there are, how many pieces each holds, its place on the shelf in mm."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)

    class Meta:
        model = Mould
        fields = ["uid", "studio", "name", "count", "holds", "length_mm", "width_mm", "round", "active"]
        read_only_fields = fields


class SizeLine(Strict):
    """So many pieces of one size, in mm; of a round one both are its diameter."""

    count = WholeField(min_value=1, max_value=500)
    length_mm = WholeField(min_value=5, max_value=5000)
    width_mm = WholeField(min_value=5, max_value=5000)
    round = TruthField(default=False)
    name = TextField(required=False, allow_blank=True, max_length=40)
    mould = UidField(
        among=visible.moulds_of,
        what="mould",
        required=False,
        help_text="That each sinks into, or is cast in.",
    )
    makers = serializers.ListField(
        child=TextField(max_length=80),
        required=False,
        max_length=500,
        help_text="Names of their makers, in order; the rest are whoever asks.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return {"size": SizeAsked(**{**attrs, "makers": tuple(attrs.get("makers", ()))})}


def sizes_of(given: dict[str, Any]) -> dict[str, Any]:
    """What was sent, with its sizes as the services take them."""
    return {**given, "sizes": [line["size"] for line in given["sizes"]]}


class AskKilnJob(Strict):
    """Pieces of one glass and one thickness, by size; their route, and between when and when."""

    title = TextField(max_length=80)
    sizes = SizeLine(many=True)
    glass = SlugField(among=visible.glasses_of, what="glass")
    mixed_with = serializers.ListField(
        child=SlugField(among=visible.glasses_of, what="glass"),
        required=False,
        max_length=20,
        help_text="Other glasses in the same pieces.",
    )
    thickness_mm = NumberField()
    route = serializers.ChoiceField(choices=ROUTES)
    cold_min_each = MinutesField(required=False, help_text="Cold work for each piece, up to 480.")
    arrives_at = InstantField()
    due_at = InstantField(required=False)
    studios = serializers.ListField(
        child=SlugField(among=studios_of, what="studio"), allow_empty=False, max_length=50
    )
    aim = serializers.ChoiceField(choices=KilnAim.choices, required=False)
    shares_space = TruthField(required=False, help_text="Others may add pieces where a shelf has room.")
    note = TextField(required=False, allow_blank=True, max_length=200)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        require_order(attrs, "arrives_at", "due_at")
        return sizes_of(attrs)


class JobSizeSerializer(serializers.ModelSerializer[JobSize]):
    """So many pieces of one size."""

    mould = serializers.UUIDField(source="mould.uid", default=None, allow_null=True, read_only=True)

    class Meta:
        model = JobSize
        fields = ["name", "count", "length_mm", "width_mm", "round", "mould"]
        read_only_fields = fields


class HandedBackSerializer(serializers.Serializer[HandedBack]):
    """How many pieces a studio fires, and from when on the last of them can be handed back there."""

    studio = serializers.SlugField(source="studio.slug")
    pieces = serializers.IntegerField()
    ready_at = InstantField(source="at")


class JobLoadSerializer(serializers.ModelSerializer[Load]):
    """One of its loads; the firing has its hours."""

    studio = serializers.SlugField(source="firing.equipment.studio.slug", read_only=True)
    firing = serializers.UUIDField(source="firing.uid", read_only=True)
    step = serializers.IntegerField(source="job_step", read_only=True, help_text="Of its route, from 1.")

    class Meta:
        model = Load
        fields = ["studio", "firing", "step", "pieces", "in_from"]
        read_only_fields = fields


class JobStepSerializer(serializers.ModelSerializer[JobStep]):
    """Handwork for it: where, when, and whether it is done; of cold work on which pieces, by their labels.

    `firing` is the one that it is done for, or that cold work comes after.
    """

    studio = serializers.SlugField(source="studio.slug", read_only=True)
    equipment = EquipmentLineSerializer(read_only=True, allow_null=True)
    firing = serializers.UUIDField(source="load.firing.uid", default=None, allow_null=True, read_only=True)
    of: Any = serializers.SlugRelatedField(many=True, read_only=True, slug_field="label")

    class Meta:
        model = JobStep
        fields = [
            "uid",
            "does",
            "studio",
            "equipment",
            "firing",
            "starts_at",
            "ends_at",
            "pieces",
            "of",
            "done_at",
        ]
        read_only_fields = fields


class KilnJobSerializer(serializers.ModelSerializer[KilnJob]):
    """A kiln job: what was asked, and once it is booked its loads and its handwork."""

    owner = PersonLineSerializer(read_only=True)
    glass = serializers.SlugField(source="glass.slug", read_only=True)
    studios: Any = serializers.SlugRelatedField(many=True, read_only=True, slug_field="slug")
    sizes = JobSizeSerializer(many=True, read_only=True)
    loads = JobLoadSerializer(many=True, read_only=True)
    steps = JobStepSerializer(many=True, read_only=True)
    handed_back = serializers.SerializerMethodField()

    class Meta:
        model = KilnJob
        fields = [
            "uid",
            "title",
            "owner",
            "studios",
            "glass",
            "thickness_mm",
            "route",
            "cold_min_each",
            "sizes",
            "arrives_at",
            "due_at",
            "aim",
            "shares_space",
            "note",
            "status",
            "ready_at",
            "loads",
            "steps",
            "handed_back",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields

    @extend_schema_field(HandedBackSerializer(many=True))
    def get_handed_back(self, job: KilnJob) -> list[dict[str, Any]]:
        """At each studio that fires some of it."""
        return [dict(HandedBackSerializer(each).data) for each in handed_back(job)]


class WhatIf(Strict):
    """What is otherwise than in the job: the new answer stands beside the old."""

    without_kilns = serializers.ListField(
        child=UidField(among=visible.equipment_of, what="kiln"), required=False, max_length=50
    )
    more_pieces = WholeField(required=False, min_value=0, max_value=500, help_text="Of the same mix.")
    thickness_mm = NumberField(required=False)
    arrives_at = InstantField(required=False)
    due_at = InstantField(required=False)
    studios = serializers.ListField(
        child=SlugField(among=studios_of, what="studio"), required=False, max_length=50
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """As it is kept: by public names."""
        plain: dict[str, Any] = {
            key: value for key, value in attrs.items() if key in {"more_pieces", "thickness_mm"}
        }
        moments: dict[str, Any] = {
            key: attrs[key].isoformat() for key in ("arrives_at", "due_at") if key in attrs
        }
        kilns = [str(kiln.uid) for kiln in attrs.get("without_kilns", ())]
        studios = [studio.slug for studio in attrs.get("studios", ())]
        lists = {"without_kilns": kilns, "studios": studios}
        return {**plain, **moments, **{key: value for key, value in lists.items() if value}}


class SeekAnswer(Strict):
    """By which aim, and with what otherwise."""

    aim = serializers.ChoiceField(choices=KilnAim.choices, required=False)
    what_if = WhatIf(required=False)


class StandSerializer(serializers.Serializer[Any]):
    """Where a piece stands: its left front corner from that of the shelf, its size as it stands; in mm."""

    number = serializers.IntegerField()
    piece = serializers.CharField(allow_null=True, help_text="Its label; null for one that is only supposed.")
    x_mm = serializers.IntegerField()
    y_mm = serializers.IntegerField()
    length_mm = serializers.IntegerField()
    width_mm = serializers.IntegerField()
    round = serializers.BooleanField()


class ShelfSerializer(serializers.Serializer[Any]):
    """One shelf of a load, from below, and the share of it that glass covers."""

    level = serializers.IntegerField()
    fill = serializers.FloatField()
    stands = StandSerializer(many=True)


class LoadPlannedSerializer(serializers.Serializer[Any]):
    """One firing of a plan: in which kiln, from loading to unloaded, and what stands on which shelf."""

    step = serializers.IntegerField(help_text="Which firing of the route, from 1.")
    recipe = serializers.CharField()
    kiln = EquipmentLineSerializer(allow_null=True)
    begins_at = InstantField(help_text="Somebody loads it.")
    closed_at = InstantField()
    cool_at = InstantField()
    unload_at = InstantField()
    done_at = InstantField()
    shelves = ShelfSerializer(many=True)
    energy_kwh = serializers.FloatField()
    cost = serializers.FloatField()


class HandworkPlannedSerializer(serializers.Serializer[Any]):
    """What somebody does by hand; cold work has its station."""

    does = serializers.CharField()
    studio = serializers.CharField()
    station = EquipmentLineSerializer(allow_null=True)
    starts_at = InstantField()
    ends_at = InstantField()
    pieces = serializers.IntegerField()
    of = serializers.ListField(
        child=serializers.CharField(), help_text="The labels of those that are worked cold."
    )


class PlanSerializer(serializers.Serializer[Any]):
    """A plan: nothing of it is held until it is booked.

    `shelves` are laid in all, and by `bound_by` it takes `shelves_bound` at least. `cost_of` is the part of
    each piece, by its number.
    """

    loads = LoadPlannedSerializer(many=True)
    handwork = HandworkPlannedSerializer(many=True)
    handed_back = HandedBackSerializer(many=True)
    shelves = serializers.IntegerField()
    shelves_bound = serializers.IntegerField()
    bound_by = serializers.CharField()
    visits = serializers.IntegerField(help_text="How often somebody has to be there.")
    cost = serializers.FloatField()
    cost_of = serializers.ListField(child=serializers.FloatField())


class RefusalSerializer(serializers.Serializer[Any]):
    """Why there is no plan, and when the earliest would be ready, where that is known."""

    code = serializers.CharField()
    sentence = serializers.CharField()
    earliest_at = InstantField(allow_null=True)


class KilnAnswerSerializer(serializers.ModelSerializer[KilnAnswer]):
    """An answer: still sought, a plan, or why there is none.

    While it is sought `ready_at` is the best so far; no plan is ready before `bound_at`.
    """

    job = serializers.UUIDField(source="job.uid", read_only=True)
    stands = serializers.SerializerMethodField()
    plan = serializers.SerializerMethodField()
    refusal = serializers.SerializerMethodField()

    class Meta:
        model = KilnAnswer
        fields = [
            "uid",
            "job",
            "aim",
            "what_if",
            "stands",
            "ready_at",
            "bound_at",
            "proven",
            "plan",
            "refusal",
            "started_at",
            "ended_at",
        ]
        read_only_fields = fields

    @extend_schema_field(serializers.ChoiceField(choices=[each.value for each in Sought]))
    def get_stands(self, answer: KilnAnswer) -> str:
        return how_it_stands(answer).value

    @extend_schema_field(PlanSerializer(allow_null=True))
    def get_plan(self, answer: KilnAnswer) -> dict[str, Any] | None:
        return None if answer.plan is None else dict(PlanSerializer(planned(answer)).data)

    @extend_schema_field(RefusalSerializer(allow_null=True))
    def get_refusal(self, answer: KilnAnswer) -> dict[str, Any] | None:
        return None if answer.refusal is None else dict(RefusalSerializer(refused(answer)).data)


class OpenFiringSerializer(serializers.Serializer[OpenFiring]):
    """A firing that others may add to: how much of its shelves is free, and what may come."""

    firing = serializers.UUIDField(source="firing.uid")
    kiln = EquipmentLineSerializer(source="firing.equipment")
    recipe = serializers.CharField(source="firing.recipe")
    glass = serializers.CharField(source="glass.slug")
    thickest_mm = serializers.FloatField(help_text="Nothing thicker, or its program would change.")
    free_cm2 = serializers.IntegerField()
    shelves = serializers.IntegerField(help_text="So many there are for others.")
    further_shelves = serializers.IntegerField(
        source="further", help_text="So many of them are not laid yet, and are washed for what comes."
    )
    shelves_kept = serializers.IntegerField(
        source="firing.shelves_kept", allow_null=True, help_text="So many, from below, are a class's own."
    )
    takes_more_until = InstantField(source="firing.takes_more_until")
    unload_at = InstantField(source="firing.unload_at")


class OpenedFiringSerializer(serializers.ModelSerializer[Firing]):
    """Until when others may add to a firing, and above how many shelves that a class keeps."""

    firing = serializers.UUIDField(source="uid", read_only=True)

    class Meta:
        model = Firing
        fields = ["firing", "takes_more_until", "shelves_kept"]
        read_only_fields = fields


class OpenFiringBody(Strict):
    """How a firing is opened to others."""

    shelves_kept = WholeField(
        required=False,
        min_value=1,
        max_value=100,
        help_text="So many, from below, a class keeps; left out: as few as it needs at a careful fill.",
    )
    until = InstantField(required=False, help_text="Left out: until its loading begins.")


class AddPieces(Strict):
    """Own pieces to stand beside those of others in a firing that is open to them."""

    firing = UidField(among=visible.firings_of, what="firing")
    session = UidField(
        among=classes_taught,
        what="class of yours",
        required=False,
        help_text="A class that you teach: it gives title and makers, where you give none.",
    )
    title = TextField(required=False, allow_blank=True, max_length=80)
    sizes = SizeLine(many=True)
    glass = SlugField(among=visible.glasses_of, what="glass")
    thickness_mm = NumberField()
    note = TextField(required=False, allow_blank=True, max_length=200)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return sizes_of(attrs)
