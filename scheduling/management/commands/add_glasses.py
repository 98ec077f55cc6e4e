"""Add the families of glass that are not in the book yet."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from scheduling.management.base import HouseCommand
from studios.models import GlassType
from studios.thermal import FAMILIES


class Command(HouseCommand):
    help = (
        "Add the families of glass with their sources, to start from; what is there already stays as it is."
    )

    @transaction.atomic
    def handle(self, *_args: Any, **_options: Any) -> None:
        known = set(GlassType.objects.values_list("slug", flat=True))
        for slug, family in FAMILIES.items():
            if slug in known:
                self.stdout.write(f"{slug} is in the book already.")
                continue
            row = GlassType.of_family(family)
            row.full_clean()
            row.save()
            self.stdout.write(f"{slug} added: {row.source}")
