"""The page of a piece of equipment, the fit of a log, and the record that it becomes."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile

from scheduling.models import Firing
from scheduling.services.calibrating import fit_log
from studios.models import Calibration, Person, Season, Studio, ThermalRecord
from tests.faces.web.bookings import WEEK, a_class
from tests.faces.web.conftest import Reader, Visit
from tests.logs import cooling_log, firing_log, ramp_log
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


@pytest.fixture(autouse=True)
def _monday_morning(town: Town) -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


def page_of(town: Town, name: str = "annealer 1") -> str:
    return f"/equipment/{town.equipment[name].uid}"


def upload(visitor: Visit, path: str, log: str, **fields: str) -> Reader:
    return visitor.post(path, log=SimpleUploadedFile("night.csv", log.encode()), **fields)


def fitted(town: Town, log: str) -> str:
    """A fitted log of annealer 1; gives its page."""
    row = fit_log(
        actor=town.technician, equipment=town.equipment["annealer 1"], log=log, file_name="night.csv"
    )
    return f"/calibrations/{row.uid}"


def errors(page: Reader) -> list[str]:
    return [div["id"] for div in page.all("div", class_="error")]


def test_the_sheet_and_a_firing_lead_to_the_equipment(town: Town, visit: Visits) -> None:
    a_class(town)
    visitor = visit(town.student)

    for path in (f"/?week={WEEK}", f"/firings/{Firing.objects.get().uid}"):
        assert visitor.get(path).all("a", href=page_of(town)), path


def test_it_shows_the_record_in_force_with_the_season_and_the_door(town: Town, visit: Visits) -> None:
    Season.objects.create(studio=town.hot_shop, name="spring heat", month=3, day=1, warmer_k=8)

    page = visit(town.student).get(page_of(town))

    assert "Time constant τ 4 h" in page.words
    assert "Ambient, spring heat 38 °C" in page.words
    assert "Door may be opened at 53 °C" in page.words
    assert "Source: invented for tests" in page.words


def test_a_studio_that_reads_fahrenheit_is_shown_fahrenheit(town: Town, visit: Visits) -> None:
    town.hot_shop.temperature_unit = "F"
    town.hot_shop.save()

    assert "Ceiling T∞ at full power 1292 °F" in visit(town.student).get(page_of(town)).words


def test_a_student_sees_the_record_and_fits_nothing(town: Town, visit: Visits) -> None:
    calibration = fitted(town, cooling_log(5.0))
    visitor = visit(town.student)

    page = visitor.get(page_of(town))
    assert not page.all("input", type="file")
    assert "night.csv" not in page.words

    refused = upload(visitor, page_of(town), cooling_log(5.0))
    assert visitor.status == 403
    assert "needs the role technician" in refused.words
    visitor.get(calibration)
    assert visitor.status == 403
    visitor.post(calibration, ranges="one", valid_from="2031-03-04")
    assert visitor.status == 403
    assert Calibration.objects.count() == 1
    assert not ThermalRecord.objects.filter(valid_from__year=2031).exists()


def test_a_technician_of_another_studio_finds_nothing(town: Town, visit: Visits) -> None:
    calibration = fitted(town, cooling_log(5.0))
    other = Studio.objects.create(name="Other", slug="other", time_zone="UTC")
    town.stranger.memberships.create(studio=other, role="technician")
    visitor = visit(town.stranger)

    for path in (page_of(town), calibration):
        visitor.get(path)
        assert visitor.status == 404, path
        visitor.post(path)
        assert visitor.status == 404, path


def test_a_log_is_fitted_shown_and_becomes_the_record(town: Town, visit: Visits) -> None:
    a_class(town, starts_at=local(4, 18))
    booked = Firing.objects.get()
    visitor = visit(town.technician)

    shown = upload(visitor, page_of(town), cooling_log(5.0), ambient_c="30")

    assert "night.csv is fitted. Nothing changes until a fit is accepted." in shown.words
    assert "τ 4.00 h 5.0000 h 5.0000 to 5.0001" in shown.words or "τ 4.00 h 5.00" in shown.words
    assert "From 510 to 50 °C the log takes 15 h 5" in shown.words
    assert [one for one in shown.all("path") if one.get("class") == "fitted"]
    assert [one for one in shown.all("path") if one.get("class") == "logged"]
    assert "blowing, Instructor" in shown.words
    assert "later" in shown.words

    uid = Calibration.objects.get().uid
    after = visitor.post(f"/calibrations/{uid}", ranges="one", valid_from="2031-03-05")

    assert "annealer 1 goes by this record from 2031-03-05 on." in after.words
    assert "One booked firing keeps its hours; it is listed below." in after.words
    assert after.all("a", href=f"/firings/{booked.uid}")
    assert not after.all("input", name="valid_from")
    assert booked.cool_at == Firing.objects.get().cool_at
    record = town.equipment["annealer 1"].record_on(local(2, 0).date())
    assert record is not None
    assert record.tau_h == pytest.approx(5.0, rel=0.01)
    history = visitor.get(page_of(town))
    assert "from 5 March 2031" in history.words
    assert "in force" in history.words


def test_a_full_power_stretch_is_shown_with_its_ceiling(town: Town, visit: Visits) -> None:
    page = visit(town.technician).get(fitted(town, firing_log(5.0, 820.0)))

    assert "Heating at full power from 0:00" in page.words
    assert "T∞ 700 °C 8" in page.words
    assert page.all("path", fill="url(#mark-heat-up)")


def test_what_opens_early_is_accepted_only_with_the_tick(town: Town, visit: Visits) -> None:
    address = fitted(town, cooling_log(2.0, 5.0))
    visitor = visit(town.technician)

    page = visitor.get(address)
    assert "two ranges are offered" in page.words
    assert page.all("input", type="radio", value="two", checked="")
    assert "too early" in page.words

    refused = visitor.post(address, ranges="one", valid_from="2031-03-04")
    assert visitor.status == 409
    assert errors(refused) == ["id_although_early_error"]
    assert not ThermalRecord.objects.filter(valid_from__year=2031).exists()

    visitor.post(address, ranges="one", valid_from="2031-03-04", although_early="on")
    assert visitor.status == 200
    assert ThermalRecord.objects.get(valid_from__year=2031).tau_low_h is None


@pytest.mark.parametrize(
    ("ranges", "day", "beside"),
    [
        ("one", "2031-03-02", "id_valid_from_error"),
        ("one", "tomorrow", "id_valid_from_error"),
        ("one", "9999-12-31", "id_valid_from_error"),
        ("three", "2031-03-04", "id_ranges_error"),
        ("one", "", "id_valid_from_error"),
    ],
)
def test_a_day_or_a_fit_that_is_none_is_said_beside_its_field(
    town: Town, visit: Visits, ranges: str, day: str, beside: str
) -> None:
    visitor = visit(town.technician)

    page = visitor.post(fitted(town, cooling_log(5.0)), ranges=ranges, valid_from=day)

    assert visitor.status == 409
    assert errors(page) == [beside]


@pytest.mark.parametrize(
    ("log", "fields", "beside", "words"),
    [
        ("", {}, "id_log_error", "The log is empty"),
        ("PK\x03\x04 a workbook", {}, "id_log_error", "Line 1 is not text"),
        (cooling_log(5.0).replace("°C", "?"), {}, "id_unit_error", "°C or °F. Say which"),
        (cooling_log(5.0).replace("(min)", ""), {}, "id_elapsed_error", "a bare number"),
        (cooling_log(5.0), {"ambient_c": "85"}, "id_ambient_c_error", "This lies between"),
        (cooling_log(5.0), {"ambient_c": "warm"}, "id_ambient_c_error", "Write the temperature as a number"),
        (cooling_log(5.0), {"cooling_from": "1:00"}, "id_cooling_to_error", "Mark both ends"),
        (
            cooling_log(5.0),
            {"cooling_from": "soon", "cooling_to": "9:00"},
            "id_cooling_from_error",
            "such as 3:20",
        ),
        (
            cooling_log(5.0),
            {"cooling_from": "90:00", "cooling_to": "99:00"},
            "id_cooling_from_error",
            "are no stretch of this log",
        ),
        (
            "x" * 5_000_001,
            {},
            "id_log_error",
            "at most 5 MB",
        ),
    ],
    ids=[
        "empty",
        "workbook",
        "no unit",
        "no unit of time",
        "ambient in °F",
        "no number",
        "half a mark",
        "no time",
        "outside the log",
        "too large",
    ],
)
def test_a_wrong_file_is_answered_beside_its_field_and_nothing_is_kept(
    town: Town, visit: Visits, log: str, fields: dict[str, str], beside: str, words: str
) -> None:
    visitor = visit(town.technician)

    page = upload(visitor, page_of(town), log, **fields)

    assert visitor.status == 409
    assert errors(page) == [beside]
    assert words in page.words
    assert not Calibration.objects.exists()


def test_a_log_in_which_nothing_can_be_fitted_says_why(town: Town, visit: Visits) -> None:
    page = upload(visit(town.technician), page_of(town), ramp_log())

    assert "rises in a straight line" in page.words
    assert not Calibration.objects.exists()


def test_a_stretch_is_marked_in_hours_and_minutes(town: Town, visit: Visits) -> None:
    page = upload(
        visit(town.technician), page_of(town), cooling_log(5.0), cooling_from="1:00", cooling_to="840"
    )

    assert "Cooling by itself from 1:00 to 14:00, as marked." in page.words


def test_what_was_left_out_is_told_by_its_line(town: Town, visit: Visits) -> None:
    lines = cooling_log(5.0).splitlines()
    lines[40] = f"{lines[40].split(',')[0]},----"

    page = upload(visit(town.technician), page_of(town), "\n".join(lines))

    assert "line 41: no temperature" in page.words


def test_equipment_without_a_record_says_what_is_missing(town: Town, visit: Visits) -> None:
    page = visit(town.technician).get(page_of(town, "saw"))

    assert "it has no thermal record" in page.words
    assert not page.all("input", type="file")


def test_an_odd_name_and_a_null_character_are_no_breakdown(town: Town, visit: Visits) -> None:
    visitor = visit(town.technician)
    odd = SimpleUploadedFile("../../<b>night\u202e.csv", cooling_log(5.0).encode())

    page = visitor.post(page_of(town), log=odd)
    assert visitor.status == 200
    assert not page.all("b", class_="")
    assert "<b>night.csv" in page.words

    for name in ("ambient_c", "unit", "elapsed", "day_first", "cooling_from"):
        upload(visitor, page_of(town), cooling_log(5.0), **{name: "\0"})
        assert visitor.status == 409, name
    address = fitted(town, cooling_log(5.0))
    for name in ("ranges", "valid_from"):
        visitor.post(address, **{"ranges": "one", "valid_from": "2031-03-04"} | {name: "\0"})
        assert visitor.status == 409, name


@pytest.mark.parametrize("log", [cooling_log(5.0), cooling_log(2.0, 5.0), firing_log(5.0, 820.0)])
def test_the_pages_keep_the_rules_of_every_page(town: Town, visit: Visits, log: str) -> None:
    a_class(town, starts_at=local(4, 18))
    visitor = visit(town.technician)

    for path in (fitted(town, log), page_of(town)):
        page = visitor.get(path)
        assert len(page.all("h1")) == 1
        labelled = {label.get("for") for label in page.all("label")}
        inputs = [one for tag in ("input", "select") for one in page.all(tag) if one.get("type") != "hidden"]
        assert all(one.get("id") in labelled for one in inputs), path
        ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
        assert len(ids) == len(set(ids))
        paints = {
            attributes["fill"].removeprefix("url(#").removesuffix(")")
            for _, attributes in page.elements
            if attributes.get("fill", "").startswith("url(")
        }
        assert paints <= set(ids)
        assert not [name for _, found in page.elements for name in found if name in {"style", "onclick"}]
        assert "America/Chicago" in page.words
        assert page.all("a", href="/cautions")
