"""Numbers are typed and shown with the comma or the point of their reader's language."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

import pytest
from django import forms

from scheduling.models import Course
from scheduling.reader import reading
from scheduling.web.change_forms import RepairForm
from scheduling.web.numbers import ExactField, NumberField, WholeField
from scheduling.web.setup_forms.courses import CourseForm
from studios.models import Person, ThermalRecord
from tests.faces.web.conftest import Reader, Visit
from tests.faces.web.test_every_page import pages
from tests.worlds import Town

__all__ = ["pages"]
pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
RECORD = {
    "valid_from": "2031-03-03",
    "ceiling_c": "1050",
    "power_kw": "6",
    "ambient_c": "25",
    "source": "Estimated, invented for tests",
    "split_c": "200",
}


@pytest.mark.parametrize(
    ("language", "typed", "meant"),
    [
        ("en", "6.5", 6.5),
        ("en", " -0.25 ", -0.25),
        ("en", "1200", 1200),
        ("de", "6,5", 6.5),
        ("de", " -0,25 ", -0.25),
        ("de", "6.5", 6.5),
        ("de", "1200", 1200),
        ("de", "1200,125", 1200.125),
    ],
)
def test_a_number_is_read_as_its_writer_means_it(language: str, typed: str, meant: float) -> None:
    with reading(language):
        assert NumberField().clean(typed) == meant
        assert ExactField(max_digits=9, decimal_places=3).clean(typed) == meant


@pytest.mark.parametrize(
    ("language", "typed"),
    [
        ("en", "6,5"),
        ("en", "1,200"),
        ("de", "1.200"),
        ("de", "1.200,5"),
        ("de", "12.000.000"),
        ("de", "0.125"),
        ("de", "6,5,1"),
        ("de", "a few"),
        ("de", "inf"),
    ],
)
def test_a_number_that_may_mean_two_things_is_refused_and_not_guessed(language: str, typed: str) -> None:
    with reading(language), pytest.raises(forms.ValidationError):
        NumberField().clean(typed)


def test_a_whole_thousand_with_a_point_is_not_taken_for_one() -> None:
    """Django's own field would drop the point and what follows it."""
    with reading("de"), pytest.raises(forms.ValidationError):
        WholeField().clean("1.000")


@pytest.mark.parametrize(("language", "shown"), [("en", "1.25"), ("de", "1,25")])
def test_a_number_is_shown_as_it_is_typed(language: str, shown: str) -> None:
    with reading(language):
        assert f'value="{shown}"' in str(RepairForm(initial={"hours": 1.25})["hours"])


def test_what_was_typed_stays_as_it_was_typed() -> None:
    with reading("de"):
        assert 'value="1.200"' in str(RepairForm({"hours": "1.200"})["hours"])


@pytest.fixture
def german(town: Town) -> Person:
    Person.objects.filter(pk=town.manager.pk).update(language="de")
    return Person.objects.get(pk=town.manager.pk)


def test_a_german_enters_a_record_with_a_comma(town: Town, german: Person, visit: Visits) -> None:
    kiln = town.equipment["kiln"]

    page = visit(german).post(f"/equipment/{kiln.uid}/record", **RECORD, tau_h="6,5")

    assert ThermalRecord.objects.filter(equipment=kiln, tau_h=6.5).exists(), page.words


def test_a_german_is_shown_a_comma(town: Town, german: Person, visit: Visits) -> None:
    Course.objects.filter(slug="beads").update(thickness_mm=6.5, minutes=1500, price=Decimal("95.50"))

    form = visit(german).get("/set-up/flame/courses/beads")

    assert form.all("input", name="thickness_mm", value="6,5", inputmode="decimal")
    assert form.all("input", name="price", value="95,50", inputmode="decimal")
    assert form.all("input", name="minutes", value="1500", inputmode="numeric")


def test_a_bound_is_said_in_the_unit_and_the_language_of_its_reader(town: Town) -> None:
    town.flame.length_unit = "in"

    with reading("de"):
        form = CourseForm({"thickness_mm": "0,001"}, studio=town.flame)

        assert "0,0039 in" in form.errors["thickness_mm"][0]


def test_whoever_lives_in_the_south_types_a_minus_on_a_phone(visit: Visits, town: Town) -> None:
    page = visit(town.manager).get("/set-up/flame/about/place")

    assert page.all("input", name="latitude", inputmode="text")


def test_no_page_leaves_a_number_to_what_a_browser_takes_for_one(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        assert not page.all("input", type="number"), path


def every_form(parent: type[forms.BaseForm] = forms.BaseForm) -> Iterator[type[forms.BaseForm]]:
    for form in parent.__subclasses__():
        yield form
        yield from every_form(form)


def test_no_form_of_a_page_asks_for_a_fraction_without_its_comma() -> None:
    ours = [form for form in every_form() if form.__module__.startswith("scheduling.web.")]
    plain = (forms.FloatField, forms.DecimalField)

    left = {
        f"{form.__name__}.{name}"
        for form in ours
        if not hasattr(form, "worded")  # those of the set-up write theirs when they are made
        for name, field in getattr(form, "base_fields", {}).items()
        if isinstance(field, plain) and not field.localize
    }

    assert ours
    assert not left


def test_what_is_out_of_range_is_said_without_the_name_that_a_program_has_for_it(
    town: Town, visit: Visits
) -> None:
    kiln = town.equipment["kiln"]

    page = visit(town.manager).post(f"/equipment/{kiln.uid}/record", **RECORD, tau_h="-1")

    assert "This lies between 0.01 and 200; -1 does not." in page.words
    assert "tau_h" not in page.words
