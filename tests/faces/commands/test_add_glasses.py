from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

from studios.models import GlassType
from studios.thermal import FAMILIES

pytestmark = pytest.mark.django_db


def test_the_families_are_added_once_and_a_studio_s_own_values_stay() -> None:
    call_command("add_glasses", stdout=StringIO())
    GlassType.objects.filter(slug="float").update(annealing_c=540)
    said = StringIO()

    call_command("add_glasses", stdout=said)

    assert GlassType.objects.count() == len(FAMILIES)
    assert GlassType.objects.get(slug="float").annealing_c == 540
    assert "float is in the book already." in said.getvalue()
