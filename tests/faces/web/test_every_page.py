"""What holds for every page: labels, headings, no inline code, the cautions, and what goes wrong."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from scheduling.services.outages import enter_outage
from studios.models import Person
from tests.faces.web.bookings import WEEK, a_class, a_seat
from tests.faces.web.conftest import Reader, Visit
from tests.services.kiln_work import a_job, answered, booked, load_at, planned, with_shelves
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]

OUTSIDE = ("/sign-in", "/sign-up", "/mailed", "/password/forgotten", "/password/MQ/x-y", "/sign-up/MQ/x-y")
UNTIMED = ("/labels", "/change", "/kiln-jobs/ask")
TIMELESS = {"/book", "/book/weekly", "/cautions", "/calendars", "/my-seats", "/account", "/account/password"}


@pytest.fixture
def pages(town: Town, visit: Visits) -> dict[str, Reader]:
    """Every page of an instructor, with something on it, the people, and what is seen from outside."""
    session = a_class(town, "beads")
    a_seat(session, town.student)
    visitor = visit(town.instructor)
    visitor.post("/calendars", label="my phone")
    paths = [
        f"/?week={WEEK}",
        "/?day=2031-03-04",
        "/book",
        "/book?course=beads&studios=flame&first_day=2031-03-04&last_day=2031-03-06&time=18:00",
        "/book/weekly",
        "/book/weekly?course=beads&studio=flame&first_day=2031-03-11&weeks=3&time=18:00",
        f"/sessions/{session.uid}",
        f"/firings/{session.loads.get().firing.uid}",
        "/torches?studio=flame&day=2031-03-05&starts=12:00&ends=14:00",
        "/my-seats",
        "/calendars",
        "/other-calendars",
        "/cautions",
        "/account",
        "/account/password",
    ]
    found = {path: visitor.get(path) for path in paths}
    move = f"/sessions/{session.uid}/move"
    paths += [move, f"{move}?day=2031-03-05&time=18:00", f"{move}?day=2031-03-05&time=22:30"]
    found |= {path: visitor.get(path) for path in paths[-3:]}
    found |= _outage_pages(town, visit(town.technician))
    set_up = (
        "",
        "/lines/closures",
        "/about/limits",
        "/equipment/new/kiln",
        "/courses/new",
        "/supplies/new/oxygen",
    )
    found |= {f"/set-up/flame{path}": visit(town.manager).get(f"/set-up/flame{path}") for path in set_up}
    found |= _kiln_job_pages(town, visitor, session.uid)
    kept = ("/people", "/people?studio=flame", "/audit?studio=flame", f"/audit?studio=flame&of={session.uid}")
    found |= {path: visit(town.manager).get(path) for path in kept}
    return found | {path: visit(None).get(path) for path in OUTSIDE}


def _kiln_job_pages(town: Town, visitor: Visit, class_uid: object) -> dict[str, Reader]:
    """A kiln job that is booked, one that is only asked for with its answer, and their lists at the kiln."""
    kiln = with_shelves(town)
    job, asked = a_job(town, shares_space=True), a_job(town, title="asked")
    answer = answered(asked, planned(load_at(asked, kiln, local(2, 10))))
    booked(job, load_at(job, kiln, local(2, 10)), actor=town.instructor)
    firing, piece = job.loads.get().firing, job.pieces.all()[0]
    paths = ["/kiln-jobs", "/kiln-jobs/ask", "/kiln-jobs/open-space", f"/kiln-jobs/{job.uid}"]
    paths += [f"/kiln-jobs/{asked.uid}/change", f"/kiln-answers/{answer.uid}", f"/pieces/{piece.uid}"]
    paths += [f"/firings/{firing.uid}/{part}" for part in ("loading-list", "unloading-list", "add-pieces")]
    paths += [f"/sessions/{class_uid}/pieces", f"/kiln-jobs/{job.uid}/labels"]
    return {path: visitor.get(path) for path in paths}


def _outage_pages(town: Town, technician: Visit) -> dict[str, Reader]:
    """Equipment goes out of use while a class needs it."""
    saw, torch = (town.equipment[name] for name in ("saw", "torch 1"))
    outage = enter_outage(
        actor=town.technician,
        equipment=torch,
        starts_at=local(1, 17),
        ends_at=local(1, 19),
        reason="a belt",
    )
    paths = (f"/equipment/{saw.uid}/outage", f"/outages/{outage.uid}")
    return {path: technician.get(path) for path in paths}


def test_one_heading_of_the_page_and_a_way_past_the_header(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        assert len(page.all("h1")) == 1, path
        assert page.all("a", class_="skip", href="#content"), path
        assert page.all("main", id="content"), path
        assert page.all("html", lang="en"), path


def test_every_input_has_a_label(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        labelled = {label.get("for") for label in page.all("label")}
        inputs = [one for tag in ("input", "select", "textarea") for one in page.all(tag)]
        for one in inputs:
            assert one.get("type") == "hidden" or one.get("id") in labelled, (path, one)


def test_nothing_is_written_inline_so_a_strict_policy_can_come(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        assert not page.all("style"), path
        assert all("src" in script for script in page.all("script")), path
        for tag, attributes in page.elements:
            inline = [name for name in attributes if name == "style" or name.startswith("on")]
            assert not inline, (path, tag, inline)


def test_every_id_stands_once_and_every_painted_mark_is_defined(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
        assert len(ids) == len(set(ids)), path
        paints = {
            attributes[name].removeprefix("url(#").removesuffix(")")
            for _, attributes in page.elements
            for name in ("fill", "stroke")
            if attributes.get(name, "").startswith("url(")
        }
        assert paints <= set(ids), path


def test_cautions_are_never_far(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        assert page.all("a", href="/cautions"), path
    assert "local codes, the makers’ instructions and licensed practice decide" in pages["/cautions"].words
    for text in ("NFPA 51", "29 CFR 1910.253", "NFPA 70", "ANSI Z87.1", "Industrial Ventilation", "HSE"):
        assert text in pages["/cautions"].words


def test_times_come_with_the_zone(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        if path not in TIMELESS | set(OUTSIDE) and not path.endswith(UNTIMED):
            assert "America/Chicago" in page.words, path


def test_what_is_not_there_looks_like_the_rest(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    page = visitor.get("/nothing-here")

    assert visitor.status == 404
    assert "Nothing stands at this address" in page.words
    assert page.all("a", href="/")


def test_a_form_without_its_token_is_refused_in_the_same_look(town: Town) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(town.student)

    response = client.post("/calendars", {"label": "my phone"})

    assert response.status_code == 403
    assert "The form could not be trusted" in response.content.decode()


def test_a_breakdown_says_that_nothing_was_half_written(town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    def break_down(**_facts: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("scheduling.web.views.sheet.sheet", break_down)
    client = Client(raise_request_exception=False)
    client.force_login(town.student)

    response = client.get("/")

    assert response.status_code == 500
    assert "Nothing was half written" in response.content.decode()
