"""The log of a firing, given on its page: drawn over the curve, and where it differs most is said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from scheduling.engine.clock import moment
from scheduling.engine.curves import temperature
from scheduling.models import AuditEntry, Firing
from scheduling.selectors.firings import FiringPage, firing_page
from scheduling.selectors.held import viewer_of
from studios.models import Calibration, Person
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
Stamp = Callable[[int], str]


@pytest.fixture
def page(town: Town) -> FiringPage:
    a_class(town)
    found = firing_page(
        uid=Firing.objects.get().uid, person=town.technician, viewer=viewer_of(town.technician)
    )
    assert found is not None
    return found


def local_stamp(page: FiringPage) -> Stamp:
    zone = page.firing.equipment.studio.zone
    return lambda minute: f"{moment(minute).astimezone(zone):%Y-%m-%d %H:%M}"


def log_of(
    page: FiringPage,
    stamp: Stamp,
    *,
    header: str = "time,temperature (°C)",
    hotter: Callable[[int], float] = lambda _: 0.0,
    scale: Callable[[float], float] = lambda celsius: celsius,
) -> str:
    """What a logger would have written of the firing as it was worked out, every five minutes."""
    lines = [header]
    for phase in page.phases:
        for minute in range(*phase.span, 5):
            celsius = temperature(phase, minute)
            if celsius is not None:
                lines.append(f"{stamp(minute)},{scale(celsius + hotter(minute)):.2f}")
    return "\n".join(lines)


def give(visitor: Visit, page: FiringPage, log: str, **fields: str) -> Reader:
    file = SimpleUploadedFile("night.csv", log.encode())
    return visitor.post(f"/firings/{page.firing.uid}/log", log=file, **fields)


def drawn(shown: Reader) -> list[str]:
    return [one["class"] for one in shown.all("path") if one.get("class") in {"log-line", "fit-line"}]


def test_a_log_that_follows_the_curve_is_drawn_over_it_and_fitted(
    town: Town, visit: Visits, page: FiringPage
) -> None:
    shown = give(visit(town.technician), page, log_of(page, local_stamp(page)))

    assert "The log over the curve" in shown.words
    assert "0 °C hotter" in shown.words or "0 °C colder" in shown.words
    assert "cool enough to open" in shown.words
    assert "Fitted to it: time constant τ 4.0" in shown.words
    assert set(drawn(shown)) == {"log-line", "fit-line"}


def test_where_it_differs_most_is_said_with_the_time_and_both_temperatures(
    town: Town, visit: Visits, page: FiringPage
) -> None:
    """The kiln ran 40 K hot for a quarter of an hour in the soak."""
    soak = next(phase for phase in page.phases if phase.kind == "soak")
    hot = range(soak.span[0] + 10, soak.span[0] + 25)

    shown = give(
        visit(town.technician),
        page,
        log_of(page, local_stamp(page), hotter=lambda minute: 40.0 * (minute in hot)),
    )

    zone = page.firing.equipment.studio.zone
    assert "40 °C hotter" in shown.words
    assert "550 °C where 510 °C were expected" in shown.words
    since = moment(hot[0]).astimezone(zone) - dt.timedelta(minutes=5)
    until = moment(hot[-1]).astimezone(zone)
    said = shown.words.split("from what was worked out at ")[1][:17]
    assert f"{since:%H:%M}" <= said.split(", ")[1][:5] <= f"{until:%H:%M}"


@pytest.mark.parametrize("way", ["with its offset", "a clock without a date", "elapsed"])
def test_a_log_finds_its_place_however_its_times_are_written(
    town: Town, visit: Visits, page: FiringPage, way: str
) -> None:
    zone, begin = page.firing.equipment.studio.zone, page.phases[0].span[0]
    stamps: dict[str, tuple[str, Stamp]] = {
        "with its offset": ("time", lambda minute: moment(minute).isoformat()),
        "a clock without a date": ("time", lambda minute: f"{moment(minute).astimezone(zone):%H:%M}"),
        "elapsed": ("elapsed (min)", lambda minute: str(minute - begin)),
    }
    name, stamp = stamps[way]

    shown = give(visit(town.technician), page, log_of(page, stamp, header=f"{name},temperature (°C)"))

    assert "0 °C hotter" in shown.words or "0 °C colder" in shown.words
    assert ("does not say when it began" in shown.words) == (way == "elapsed")
    assert ("It has no dates" in shown.words) == (way == "a clock without a date")


def test_when_it_began_can_be_said(town: Town, visit: Visits, page: FiringPage) -> None:
    begin, zone = page.phases[0].span[0], page.firing.equipment.studio.zone
    late = moment(begin + 60).astimezone(zone)
    log = log_of(page, lambda minute: str(minute - begin), header="elapsed (min),temperature (°C)")

    shown = give(visit(town.technician), page, log, day=f"{late:%Y-%m-%d}", at=f"{late:%H:%M}")

    assert "°C colder" in shown.words
    assert "1 h later than worked out" in shown.words


def test_a_log_in_fahrenheit_is_read_as_such_and_said_to_who_reads_fahrenheit(
    town: Town, visit: Visits, page: FiringPage
) -> None:
    town.technician.units = "us"
    town.technician.save()
    log = log_of(
        page,
        local_stamp(page),
        header="time,temperature (°F)",
        hotter=lambda _: 10.0,
        scale=lambda celsius: celsius * 9 / 5 + 32,
    )

    shown = give(visit(town.technician), page, log)

    assert "18 °F hotter" in shown.words
    labels = [one for one in shown.all("text") if one.get("class", "").startswith("axis-label")]
    assert labels


@pytest.mark.parametrize(
    ("fields", "beside", "words"),
    [
        ({}, "id_log_day_error", "not during this firing"),
        ({"at": "18:00"}, "id_log_day_error", "Say the day, too."),
        ({"day": "2031-03-04"}, "id_log_at_error", "Say the time, too."),
        ({"unit": "F"}, "id_log_unit_error", "You said °F"),
    ],
)
def test_what_cannot_be_laid_over_it_is_said_beside_its_field(
    town: Town, visit: Visits, page: FiringPage, fields: dict[str, str], beside: str, words: str
) -> None:
    """A log of the year before."""
    zone = page.firing.equipment.studio.zone
    year_ago = dt.timedelta(days=365)
    log = log_of(page, lambda minute: f"{moment(minute).astimezone(zone) - year_ago:%Y-%m-%d %H:%M}")
    visitor = visit(town.technician)

    shown = give(visitor, page, log, **fields)

    assert visitor.status == 409
    assert beside in [div["id"] for div in shown.all("div", class_="error")]
    assert words in shown.words
    assert not drawn(shown)


def test_a_log_in_which_nothing_can_be_fitted_is_drawn_all_the_same(
    town: Town, visit: Visits, page: FiringPage
) -> None:
    hold = next(phase for phase in page.phases if phase.kind == "holding")
    stamp = local_stamp(page)
    log = "\n".join(["time,temperature (°C)", *(f"{stamp(minute)},510" for minute in range(*hold.span, 5))])

    shown = give(visit(town.technician), page, log)

    assert set(drawn(shown)) == {"log-line"}
    assert "Nothing of it can be fitted:" in shown.words


def test_nothing_is_kept_of_a_log_that_is_only_drawn(town: Town, visit: Visits, page: FiringPage) -> None:
    noted = AuditEntry.objects.count()

    give(visit(town.technician), page, log_of(page, local_stamp(page)))

    assert not Calibration.objects.exists()
    assert AuditEntry.objects.count() == noted
    assert Firing.objects.get().sequence == page.firing.sequence


def test_a_student_gives_no_log_and_an_instructor_keeps_no_fit(
    town: Town, visit: Visits, page: FiringPage
) -> None:
    student, instructor = visit(town.student), visit(town.instructor)
    address = f"/firings/{page.firing.uid}"

    assert not student.get(address).all("input", name="log")
    give(student, page, log_of(page, local_stamp(page)))
    assert student.status == 403

    shown = instructor.get(address)
    assert shown.all("input", name="log")
    assert not [one for one in shown.all("button") if "formaction" in one]
    give(instructor, page, log_of(page, local_stamp(page)))
    assert instructor.status == 200


def test_a_technician_hands_the_log_on_to_be_fitted_and_kept(
    town: Town, visit: Visits, page: FiringPage
) -> None:
    visitor = visit(town.technician)
    [button] = [
        one for one in visitor.get(f"/firings/{page.firing.uid}").all("button") if "formaction" in one
    ]

    log = SimpleUploadedFile("night.csv", log_of(page, local_stamp(page)).encode())
    visitor.post(button["formaction"], log=log)

    assert visitor.last == f"/calibrations/{Calibration.objects.get().uid}"


def test_a_stranger_finds_no_firing_to_give_a_log_of(town: Town, visit: Visits, page: FiringPage) -> None:
    visitor = visit(town.stranger)

    give(visitor, page, log_of(page, local_stamp(page)))

    assert visitor.status == 404
