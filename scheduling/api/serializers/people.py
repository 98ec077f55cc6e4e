"""People as they are shown: by name where the reader may know it."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.fields import get_attribute

from scheduling.selectors.held import Viewer
from studios.models import Membership, Person, Qualification
from studios.selectors import studios_of


class PersonLineSerializer(serializers.ModelSerializer[Person]):
    """A person, by name."""

    class Meta:
        model = Person
        fields = ["uid", "name"]
        read_only_fields = fields


class WhoSerializer(PersonLineSerializer):
    """A person, by name, to the staff of the studio and to that person; null to anybody else."""

    def __init__(self, *args: Any, studio: str = "studio_id", **facts: Any) -> None:
        self.studio_path = studio.split(".")
        super().__init__(*args, allow_null=True, **facts)

    def get_attribute(self, instance: Any) -> Person | None:
        person: Any = super().get_attribute(instance)
        return person if self.may_know(instance, person) else None

    def may_know(self, instance: Any, person: Person) -> bool:
        """Students do not read one another's names."""
        if person == self.context["request"].user:
            return True
        viewer: Viewer = self.context["viewer"]
        return viewer.sees_names_at(get_attribute(instance, self.studio_path))


class MembershipSerializer(serializers.ModelSerializer[Membership]):
    """A role at a studio."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)

    class Meta:
        model = Membership
        fields = ["studio", "role"]
        read_only_fields = fields


class QualificationSerializer(serializers.ModelSerializer[Qualification]):
    """A kind of equipment that a studio has signed the person off for."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)

    class Meta:
        model = Qualification
        fields = ["studio", "kind"]
        read_only_fields = fields


class MeSerializer(serializers.ModelSerializer[Person]):
    """The person signed in."""

    roles = MembershipSerializer(source="memberships", many=True, read_only=True)
    qualifications = QualificationSerializer(many=True, read_only=True)
    studios = serializers.SerializerMethodField()

    class Meta:
        model = Person
        fields = ["uid", "name", "email", "studios", "roles", "qualifications"]
        read_only_fields = fields

    def get_studios(self, person: Person) -> list[str]:
        return list(studios_of(person).order_by("slug").values_list("slug", flat=True))
