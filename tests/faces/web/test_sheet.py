"""The week sheet: every piece of equipment over seven local days, as strips and as a table."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from scheduling.models import Firing, Outage, Seat, Session
from studios.models import Closure, Person, Studio
from tests.faces.web.bookings import WEEK, a_class, a_torch
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_every_piece_of_equipment_has_its_strip(town: Town, visit: Visits) -> None:
    page = visit(town.student).get("/", week=WEEK)

    every = page.all("svg", class_="strip") + page.all("svg", class_="strip elastic")
    names = {found["aria-label"] for found in every}
    alone = {one.name for one in town.equipment.values() if one.kind != "torch"}
    assert {name.removesuffix(": idle") for name in names} >= alone | {"Torches 1 to 8"}
    assert "Times by the clocks of America/Chicago" in page.words


def opened(page: Reader, holder: Session | Firing | Seat) -> list[str]:
    """The addresses that open what a holder holds."""
    links = [link["href"] for link in page.all("a", class_="held")]
    return [href for href in links if f".{holder.uid.hex}#" in href]


def test_a_booked_class_is_opened_from_its_strips_and_its_night_from_the_annealer(
    town: Town, visit: Visits
) -> None:
    session = a_class(town)
    firing = session.loads.get().firing

    page = visit(town.student).get("/", week=WEEK)

    # Furnace, glory hole, bench and pipe warmer are held by the class; the annealer by the firing.
    assert len(opened(page, session)) == 4
    assert len(opened(page, firing)) == 1
    assert "blowing: anneal, Instructor" in page.words


def test_a_piece_opens_its_details_below_its_strip(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.student)
    href, *_ = opened(visitor.get("/", week=WEEK, studio="hot-shop"), session)

    page = visitor.get(f"/{href.removesuffix('#piece')}")

    assert len(page.all("section", id="piece")) == 1
    assert page.all("a", class_="held", aria_current="true") == page.all("a", class_="held", href=href)
    assert page.all("a", href=f"/sessions/{session.uid}")
    assert "working 18:00–21:00, 1150 °C" in page.words
    assert "It also holds hole 1 from" in page.words
    assert page.all("a", href=f"?week={WEEK}&studio=hot-shop", data_close="")


def test_with_htmx_only_the_details_are_sent(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.student)
    href, *_ = opened(visitor.get("/", week=WEEK), session)

    response = visitor.client.get(f"/{href.removesuffix('#piece')}", headers={"HX-Request": "true"})

    assert response.content.decode().startswith('<section class="piece')
    assert "HX-Request" in response["Vary"]


def test_how_hot_it_is_now_stands_among_the_details(town: Town, visit: Visits) -> None:
    firing = a_class(town).loads.get().firing
    soak = firing.occupancy.phases.get(kind="soak")
    [href] = opened(visit(town.student).get("/", week=WEEK), firing)

    with time_machine.travel(soak.starts_at + dt.timedelta(minutes=5), tick=False):
        page = visit(town.student).get(f"/{href.removesuffix('#piece')}")

    assert f"soak, about {soak.from_c:.0f} °C by calculation" in page.words
    assert "Unloaded from" in page.words
    assert page.all("a", href=f"/firings/{firing.uid}")


def test_a_piece_that_was_called_off_is_said_to_be_gone(town: Town, visit: Visits) -> None:
    page = visit(town.student).get("/", week=WEEK, piece="0.1")

    assert "Not here any more" in page.words


def test_a_firing_that_broke_off_is_marked_on_its_strip_in_its_details_and_in_the_table(
    town: Town, visit: Visits
) -> None:
    firing = a_class(town).loads.get().firing
    Firing.objects.filter(pk=firing.pk).update(broken_at=firing.last_in_at + dt.timedelta(hours=2))
    visitor = visit(town.student)

    page = visitor.get("/", week=WEEK, studio="hot-shop")
    [href] = opened(page, firing)
    details = visitor.get(f"/{href.removesuffix('#piece')}")
    table = visitor.get("/", week=WEEK, studio="hot-shop", **{"as": "table"})

    assert len(page.all("path", class_="break")) == 2  # on the strip, and in the legend
    assert "broke off: anneal again" in page.words
    assert "its glass is to be annealed again" in details.words
    assert "to be annealed again" in table.words


def test_the_table_says_what_the_strips_show(town: Town, visit: Visits) -> None:
    session = a_class(town)
    firing = session.loads.get().firing

    page = visit(town.student).get("/", week=WEEK, **{"as": "table"})

    soak = firing.occupancy.phases.get(kind="soak")
    begins, ends = (at.astimezone(town.hot_shop.zone) for at in (soak.starts_at, soak.ends_at))
    assert f"soak {begins:%H:%M}–{ends:%H:%M}, {soak.from_c:.0f} °C" in page.words


def test_students_see_that_a_torch_is_taken_but_not_by_whom(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)

    to_others = visit(town.other_student).get("/", week=WEEK)
    to_staff = visit(town.instructor).get("/", week=WEEK)
    to_oneself = visit(town.student).get("/", week=WEEK)

    assert said_of_bench(to_others) == "Bench time, taken"
    assert said_of_bench(to_staff) == said_of_bench(to_oneself) == "Bench time, Student"
    assert "Student" not in to_others.words.split("Torches 1 to 8")[1]


def said_of_bench(page: Reader) -> str:
    [link] = page.all("a", class_="held")
    return link["aria-label"].partition(":")[0]


def test_ones_own_bench_time_leads_to_ones_seats(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)
    own, others = visit(town.student), visit(town.other_student)
    [link] = own.get("/", week=WEEK).all("a", class_="held")
    address = f"/{link['href'].removesuffix('#piece')}"

    to_oneself, to_others = own.get(address), others.get(address)

    assert "My seats" in to_oneself.words.split("Bench time")[-1]
    assert "My seats" not in to_others.words.split("Bench time")[-1]


def test_an_empty_week_says_where_the_next_booking_is(town: Town, visit: Visits) -> None:
    a_class(town)

    page = visit(town.student).get("/", week="2031-W05")

    assert "The next booking is at Hot shop on Tuesday 4 March 2031" in page.words
    assert page.all("a", href="?to=2031-03-04")


def test_after_the_last_booking_the_sheet_says_which_it_was(town: Town, visit: Visits) -> None:
    a_class(town)

    assert "the last booking was at Hot shop" in visit(town.student).get("/", week="2031-W20").words


@pytest.mark.parametrize(
    ("query", "title"),
    [
        ({"week": "2031-W10"}, "Week 10 of 2031: 3 to 9 March"),
        ({"week": "2031-w1"}, "Week 1 of 2031: 30 December to 5 January"),
        ({"day": "2031-03-09"}, "Sunday 9 March 2031"),
        ({"to": "2031-03-05"}, "Week 10 of 2031: 3 to 9 March"),
    ],
)
def test_a_week_or_a_day_stands_in_the_address(
    town: Town, visit: Visits, query: dict[str, str], title: str
) -> None:
    assert title in visit(town.student).get("/", **query).words


@pytest.mark.parametrize(
    "query", [{"week": "2031-W60"}, {"week": "soon"}, {"day": "2031-02-30"}, {"to": "1066-10-14"}]
)
def test_what_is_no_week_is_said_and_this_week_is_shown(
    town: Town, visit: Visits, query: dict[str, str]
) -> None:
    visitor = visit(town.student)

    page = visitor.get("/", **query)

    assert visitor.status == 200
    assert "is no week or day" in page.words


def test_one_studio_alone_and_never_a_strangers(town: Town, visit: Visits) -> None:
    alone, stranger = visit(town.student), visit(town.stranger)

    page = alone.get("/", week=WEEK, studio="flame")
    stranger.get("/", week=WEEK, studio="flame")

    assert page.all("section", class_="studio") == [{"class": "studio", "aria-labelledby": "studio-flame"}]
    assert stranger.status == 404
    assert "You belong to no studio yet" in stranger.get("/").words


def test_an_outage_and_a_closure_are_shown_with_their_reason(town: Town, visit: Visits) -> None:
    Outage.objects.create(
        equipment=town.equipment["kiln"], starts_at=local(2, 9), ends_at=local(2, 17), reason="new elements"
    )
    day = dt.date(2031, 3, 7)
    Closure.objects.create(studio=town.flame, first_day=day, last_day=day, reason="Lantern fair")

    page, table = (visit(town.student).get("/", week=WEEK, **how) for how in ({}, {"as": "table"}))

    assert "Out of use: new elements" in page.words
    assert "out of use: new elements" in table.words
    assert page.all("path", class_="outage")
    assert "Closed on Friday 7 March 2031: Lantern fair" in page.words


def test_names_and_reasons_are_words_and_never_markup(town: Town, visit: Visits) -> None:
    nasty = "</title><script>alert(1)</script>"
    town.courses["blowing"].name = nasty
    town.courses["blowing"].save()
    town.equipment["kiln"].name = nasty
    town.equipment["kiln"].save()
    a_class(town)
    Outage.objects.create(
        equipment=town.equipment["kiln"], starts_at=local(2, 9), ends_at=local(2, 17), reason=nasty
    )

    page = visit(town.student).get("/", week=WEEK)

    assert all("src" in script for script in page.all("script"))
    assert f"Out of use: {nasty}" in page.words


def test_the_sheet_asks_the_database_no_more_for_a_full_week_than_for_an_empty_one(
    town: Town, visit: Visits
) -> None:
    visitor = visit(town.instructor)
    a_class(town)
    with CaptureQueriesContext(connection) as few:
        visitor.get("/", week=WEEK)
    a_class(town, starts_at=local(3, 18))
    a_class(town, "beads", local(2, 18))
    for number, hour in ((1, 10), (2, 12), (3, 14)):
        a_torch(town, number, town.student, hour=hour)

    with CaptureQueriesContext(connection) as many:
        visitor.get("/", week=WEEK)

    assert len(many) == len(few) <= 12


def test_the_table_is_one_key_away_and_the_drawing_one_key_back(town: Town, visit: Visits) -> None:
    a_class(town)
    visitor = visit(town.student)

    empty, booked = visitor.get("/", week="2031-W05"), visitor.get("/", week=WEEK, studio="hot-shop")
    [key] = booked.all("a", accesskey="t")
    table = visitor.get(f"/{key['href']}")
    [back] = table.all("a", accesskey="t")

    assert not empty.all("a", accesskey="t")
    assert not booked.all("table")
    assert table.all("table", id="table-hot-shop")
    assert not table.all("svg", class_="strip")
    assert back["href"] == f"?week={WEEK}&studio=hot-shop"


@pytest.mark.parametrize(
    ("kind", "strips"),
    [
        ("annealer", {"annealer 1", "annealer 2", "small annealer"}),
        ("torch", {"Torches 1 to 8"}),
        ("kiln", {"kiln"}),
    ],
)
def test_one_kind_of_equipment_alone(town: Town, visit: Visits, kind: str, strips: set[str]) -> None:
    page = visit(town.student).get("/", week=WEEK, kind=kind)

    names = {found["aria-label"].removesuffix(": idle") for found in page.all("svg", class_="strip")}
    idle = {found["aria-label"].removesuffix(": idle") for found in page.all("svg", class_="strip elastic")}
    assert (names | idle) - {"Days"} == strips


def test_the_supplies_alone_and_a_filter_that_stays_from_week_to_week(town: Town, visit: Visits) -> None:
    a_class(town)

    page = visit(town.student).get("/", week=WEEK, kind="supplies", studio="hot-shop")

    drawn = {found["aria-label"] for found in page.all("svg", class_="strip elastic")}
    assert drawn == {"gas: most 68 of 200 kW", "shop feeder: most 7.5 of 20 kW"}
    assert page.all("a", rel="next", href="?week=2031-W11&studio=hot-shop&kind=supplies")
    assert page.all("input", type="hidden", name="kind", value="supplies")


def test_the_week_is_had_as_a_calendar_file(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    assert visitor.get("/", week=WEEK).all("a", href="/calendars/week/2031-W10.ics")
    assert visitor.get("/", day="2031-03-09").all("a", href="/calendars/week/2031-W10.ics")
    # 30 December 2030 lies in the first week of 2031.
    assert visitor.get("/", day="2030-12-30").all("a", href="/calendars/week/2031-W01.ics")


def test_the_clocks_are_named_once_where_studios_share_them(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    shared = visitor.get("/", week=WEEK)

    Studio.objects.filter(pk=town.flame.pk).update(time_zone="America/Denver")

    assert shared.words.count("Times by the clocks of") == 1
    assert visitor.get("/", week=WEEK).words.count("Times by the clocks of") == 2


def test_the_line_of_now_begins_below_the_name_of_the_day(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(2, 1), tick=False):
        page = visit(town.student).get("/", week=WEEK, studio="hot-shop")

    head, *strips = [path["d"] for path in page.all("path", class_="now")]
    assert re.fullmatch(r"M[\d.]+ 18V30", head)
    assert strips
    assert all(re.fullmatch(r"M[\d.]+ 0V\d+", strip) for strip in strips)


def test_the_label_of_a_level_makes_way_for_a_name_that_begins_above_it(town: Town, visit: Visits) -> None:
    """On Wednesday the annealer begins hot from the class of the evening before; its name stands at 12."""
    a_class(town)
    visitor = visit(town.student)

    labels = {}
    for day in ("2031-03-04", "2031-03-05"):
        html = visitor.client.get("/", {"day": day, "studio": "hot-shop"}).content.decode()
        strip = html[html.index('aria-label="annealer 1"') :]
        found = re.search(r'<text x="3" y="([\d.]+)" class="level-label">500 °C', strip)
        assert found
        labels[day] = float(found[1])

    assert labels["2031-03-04"] - 9.5 < 14
    assert labels["2031-03-05"] - 9.5 > 16
