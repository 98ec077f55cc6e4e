"""What is typed into the admin and would make no sense is refused there, in a sentence."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from scheduling.models import Course
from studios.models import Person, SafetyText, Studio
from studios.services import next_version
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(town: Town) -> Client:
    client = Client()
    client.force_login(Person.objects.create_superuser("owner@town.example", "glass", name="Owner"))
    return client


def filled_in(page: Any, **changes: Any) -> dict[str, Any]:
    """The form of a page of the admin, its inlines left as they are, with some fields changed."""
    form = page.context["adminform"].form
    fields = {name: form.get_initial_for_field(form.fields[name], name) for name in form.fields}
    for inline in page.context["inline_admin_formsets"]:
        management = inline.formset.management_form
        fields |= {management.add_prefix(name): value for name, value in management.initial.items()}
        for row in inline.formset.initial_forms:
            for name in row.fields:
                fields[row.add_prefix(name)] = row.get_initial_for_field(row.fields[name], name)
    flat = {name: getattr(value, "pk", value) for name, value in (fields | changes).items()}
    return {
        name: [getattr(each, "pk", each) for each in value] if isinstance(value, list) else value
        for name, value in flat.items()
        if value is not None and value is not False
    }


def require(owner: Client, course: Course, *earlier: Course) -> Any:
    address = reverse("admin:scheduling_course_change", args=[course.pk])
    return owner.post(address, filled_in(owner.get(address), requires=list(earlier)))


def test_a_course_may_build_on_others(town: Town, owner: Client) -> None:
    beads, boro, tiles = (town.courses[name] for name in ("beads", "boro", "tiles"))
    boro.requires.add(tiles)

    answer = require(owner, beads, boro, tiles)

    assert answer.status_code == 302, answer.context["adminform"].form.errors
    assert set(beads.requires.all()) == {boro, tiles}


def test_no_course_builds_on_itself(town: Town, owner: Client) -> None:
    beads = town.courses["beads"]

    answer = require(owner, beads, beads)

    assert "A course does not build on itself." in answer.content.decode()
    assert not beads.requires.exists()


def test_nor_in_a_circle(town: Town, owner: Client) -> None:
    beads, boro, tiles = (town.courses[name] for name in ("beads", "boro", "tiles"))
    boro.requires.add(tiles)
    tiles.requires.add(beads)

    answer = require(owner, beads, boro)

    assert (
        "It would build on itself: on boro, which builds on tiles, which builds on beads. "
        "Nobody could begin any of them." in answer.content.decode()
    )
    assert not beads.requires.exists()


# Safety texts.


def write_texts(owner: Client, studio: Studio, *bodies: str) -> Any:
    """Write new texts under those that stand."""
    address = reverse("admin:studios_studio_change", args=[studio.pk])
    page = owner.get(address)
    form = filled_in(page)
    before = int(form["safety_texts-INITIAL_FORMS"])
    for number, body in enumerate(bodies, before):
        new = {"version": 99, "body": body, "since_0": "2031-03-03", "since_1": "09:00:00"}
        form |= {f"safety_texts-{number}-{name}": value for name, value in new.items()}
        form[f"safety_texts-{number}-studio"] = studio.pk
    return owner.post(address, form | {"safety_texts-TOTAL_FORMS": before + len(bodies)})


def test_a_safety_text_is_numbered_by_itself(town: Town, owner: Client) -> None:
    SafetyText.objects.create(studio=town.hot_shop, version=7, body="Shoes.", since=local(0, 9))

    answer = write_texts(owner, town.flame, "Tie long hair back.", "Wear glasses.")
    again = write_texts(owner, town.flame, "No sandals.")

    assert (answer.status_code, again.status_code) == (302, 302)
    texts = SafetyText.objects.filter(studio=town.flame).order_by("version")
    assert [(text.version, text.body) for text in texts] == [
        (1, "Tie long hair back."),
        (2, "Wear glasses."),
        (3, "No sandals."),
    ]
    assert next_version(town.hot_shop) == 8
