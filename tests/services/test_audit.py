"""Who did what, when and from which face: one entry for each act, none for what did not happen."""

from __future__ import annotations

import ast
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import connections
from django.test import Client

from scheduling.errors import NotAllowed, Over
from scheduling.models import AuditEntry, Face
from scheduling.project.faces import face_of
from scheduling.project.settings import BASE_DIR
from scheduling.services import accounts, audit
from scheduling.services.booking import book_session
from scheduling.services.calendars import new_feed_key, withdraw_feed_key
from scheduling.services.calibrating import accept_fit
from scheduling.services.cancelling import cancel_series, cancel_session
from scheduling.services.charges import cancel_charge, measure_pot
from scheduling.services.refills import record_refill, strike_refill
from scheduling.services.roles import confirm_role, end_role, give_role
from scheduling.services.rounds import ROUNDS, Round, make_rounds
from scheduling.services.transactions import one_write
from studios.models import Membership, Person, Role
from tests.faces.permissions.cast import Cast
from tests.services.test_booking import book
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db
SERVICES = BASE_DIR / "scheduling" / "services"
# Services that leave no entry, and why.
WITHOUT_ENTRY = {
    "accounts.sign_up": "whoever gives an address is a stranger until it is confirmed",
    "accounts.ask_new_password": "whoever asks is not known; choosing the password is noted",
    "feed_copies.keep_copy": "the same calendar, written anew for whoever reads it",
    "feed_copies.forget_copies": "what was kept of a calendar that nobody may see any more",
    "kiln_answers.ask": "an answer holds nothing; what is booked of it is noted",
    "kiln_answers.stop": "a search ends sooner, and holds nothing",
    "outbox.try_again": "a try changes the hour of a mail, and the outbox shows each try",
    "outbox.try_all_again": "a try changes the hour of a mail, and the outbox shows each try",
}


def entries(did: str = "") -> list[tuple[str, str, str]]:
    """Who did what, in order."""
    found = AuditEntry.objects.order_by("id").select_related("actor")
    found = found.filter(did=did) if did else found
    return [(entry.actor.name if entry.actor else "", entry.did, entry.said) for entry in found]


@pytest.fixture
def cast(town: Town) -> Iterator[Cast]:
    with time_machine.travel(local(0, 9), tick=False):
        yield Cast(town=town)


# What is noted.


def test_a_booked_class_and_its_calling_off_are_noted_with_who_and_when(town: Town) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        session = book(town, "blowing", local(1, 18))
        cancel_session(actor=town.manager, session=session)

    first, second = AuditEntry.objects.order_by("id")
    assert (first.actor, first.did, second.actor, second.did) == (
        town.instructor,
        "book",
        town.manager,
        "call-off",
    )
    for entry in (first, second):
        assert entry.said == "blowing at Hot shop, Tue 4 Mar 2031, 18:00 CST"
        assert (entry.studio, entry.kind, entry.subject) == (town.hot_shop, "session", session.uid)
        assert (entry.at, entry.face) == (local(0, 9), Face.COMMAND)


def test_each_meeting_of_a_weekly_class_has_its_own_history(cast: Cast, town: Town) -> None:
    series = cast.series
    cancel_series(actor=town.manager, series=series)

    for session in series.sessions.all():
        acts = AuditEntry.objects.filter(subject=session.uid).order_by("id")
        assert [entry.did for entry in acts] == ["book", "call-off"]
    assert "one meeting of a weekly class" in entries("book")[0][2]


def test_charges_levels_and_refills_are_noted(cast: Cast, town: Town) -> None:
    charge = cast.charge
    cancel_charge(actor=town.technician, charge=charge)
    measure_pot(actor=town.technician, furnace=cast.pot.furnace, at=local(0, 8), level_kg=70)
    record_refill(actor=town.technician, supply=cast.oxygen, at=local(0, 8))
    strike_refill(actor=town.manager, refill=cast.planned)

    assert entries() == [
        ("Technician", "charge", "furnace, charged to 100 kg by " + charge_ends(cast)),
        ("Technician", "call-off-charge", "furnace, charged to 100 kg by " + charge_ends(cast)),
        ("Technician", "measure-pot", "furnace held 70 kg, Mon 3 Mar 2031, 08:00 CST"),
        ("Technician", "refill", "oxygen, 9000 L from Mon 3 Mar 2031, 08:00 CST on"),
        ("Technician", "plan-refill", "oxygen, 9000 L from Sat 8 Mar 2031, 08:00 CST on"),
        ("Manager", "strike-refill", "oxygen, 9000 L from Sat 8 Mar 2031, 08:00 CST on"),
    ]


def charge_ends(cast: Cast) -> str:
    return f"{cast.charge.ends_at.astimezone(cast.town.hot_shop.zone):%a %-d %b %Y, %H:%M %Z}"


def test_a_fitted_log_and_the_record_that_it_becomes_are_noted(cast: Cast, town: Town) -> None:
    fit = cast.calibration
    accept_fit(
        actor=town.manager,
        calibration=fit,
        ranges="one",
        valid_from=local(2, 0).date(),
        although_early=True,
    )

    assert entries() == [
        ("Technician", "fit-log", "small annealer: night.csv"),
        ("Manager", "accept-fit", "small annealer: night.csv is its record from 2031-03-05 on"),
    ]


def test_roles_are_noted_with_whose_they_are(cast: Cast, town: Town) -> None:
    role = cast.membership
    Membership.objects.filter(pk=role.pk).update(new_since=local(0, 8))
    for _ in range(2):  # the second time changes nothing
        confirm_role(actor=town.manager, membership=role)
    given = give_role(actor=town.manager, person=cast.seated, studio=town.flame, role=Role.TECHNICIAN)
    end_role(actor=town.manager, membership=given)

    assert entries() == [
        ("Manager", "confirm-role", "Seated Somebody, student at Flame"),
        ("Manager", "give-role", "Seated Somebody, technician at Flame"),
        ("Manager", "end-role", "Seated Somebody, technician at Flame"),
    ]
    assert set(AuditEntry.objects.values_list("subject", flat=True)) == {cast.seated.uid}


def test_what_somebody_does_to_the_own_account_is_noted_where_they_have_a_role(cast: Cast) -> None:
    person = cast.seated
    accounts.rename(person=person, name="Seated Elsewhere")
    accounts.set_password(person=person, password="molten-amber-42")
    accounts.sign_out_everywhere(person=person)
    accounts.join_studio(person=person, studio=cast.annex)
    cast.own_token(person)
    for _ in range(2):  # the second time there is none
        accounts.withdraw_token(person=person)

    noted = list(AuditEntry.objects.order_by("id").values_list("studio__slug", "did", "actor"))
    assert noted == [
        ("flame", "rename", person.pk),
        ("flame", "choose-password", person.pk),
        ("flame", "sign-out-everywhere", person.pk),
        ("annex", "join", person.pk),
        ("flame", "withdraw-token", person.pk),
        ("annex", "withdraw-token", person.pk),
    ]
    assert entries("rename")[0][2] == "Seated Somebody is now Seated Elsewhere"


def test_a_stranger_leaves_no_entry_until_the_address_is_confirmed(cast: Cast, town: Town) -> None:
    ways = accounts.Ways(sign_in="", forgotten="", confirm=str, new_password=str)
    accounts.sign_up(name="New", email="new@town.example", studio=town.flame, ways=ways)
    accounts.ask_new_password(email=town.student.email, ways=ways)
    assert entries() == []

    accounts.confirm_address(person=Person.objects.get(email="new@town.example"), password="molten-amber-42")

    assert entries() == [("New", "confirm-address", "New, for the first time")]


def test_a_calendar_link_is_noted_without_its_name_or_key(cast: Cast) -> None:
    link = new_feed_key(actor=cast.seated, label="my phone")
    for _ in range(2):  # the second time changes nothing
        withdraw_feed_key(actor=cast.seated, feed_key=link)

    said = "A calendar link of Seated Somebody"
    assert entries() == [
        ("Seated Somebody", "make-link", said),
        ("Seated Somebody", "withdraw-link", said),
    ]


def test_what_is_said_at_length_is_cut_to_what_a_line_holds(town: Town) -> None:
    audit.note(actor=None, did="try", subject=town.student, studio=town.flame, said="long " * 100)

    assert len(AuditEntry.objects.get().said) == audit.LONGEST


# What is not.


def test_what_is_refused_or_rolled_back_leaves_no_entry(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    cancel_session(actor=town.manager, session=session)
    before = AuditEntry.objects.count()

    @one_write
    def books_and_breaks() -> None:
        book(town, "blowing", local(3, 18))
        raise ZeroDivisionError

    with pytest.raises(Over):
        cancel_session(actor=town.manager, session=session)
    with pytest.raises(NotAllowed):
        book_session(
            actor=town.student,
            course=session.course,
            studio=town.hot_shop,
            instructor=town.instructor,
            starts_at=local(2, 18),
        )
    with pytest.raises(ZeroDivisionError):
        books_and_breaks()

    assert AuditEntry.objects.count() == before


def test_a_repeated_request_leaves_one_entry(town: Town) -> None:
    client = Client()
    client.force_login(town.instructor)
    body = {"course": "blowing", "studio": "hot-shop", "starts_at": local(1, 18).isoformat()}

    for _ in range(2):
        answer = client.post("/api/sessions/", body, "application/json", headers={"Idempotency-Key": "k-1"})
        assert answer.status_code == 201

    assert AuditEntry.objects.count() == 1


# Every service that writes.


@dataclass
class Module:
    """A module of services: its functions, what each calls, and where names come from."""

    calls: dict[str, set[tuple[str, str]]] = field(default_factory=dict)
    writes: set[str] = field(default_factory=set)


def dotted(path: Path) -> str:
    return ".".join(path.relative_to(SERVICES).with_suffix("").parts)


@cache
def modules() -> dict[str, Module]:
    return {dotted(path): read(path) for path in sorted(SERVICES.rglob("*.py"))}


def read(path: Path) -> Module:
    tree, here, module = ast.parse(path.read_text()), dotted(path), Module()
    names = imported(tree)
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    own = {function.name: (here, function.name) for function in functions}
    for function in functions:
        called = {target(node, names | own) for node in ast.walk(function)}
        module.calls[function.name] = {one for one in called if one is not None}
        decorators = {node.id for node in function.decorator_list if isinstance(node, ast.Name)}
        if "one_write" in decorators and not function.name.startswith("_"):
            module.writes.add(function.name)
    return module


def imported(tree: ast.Module) -> dict[str, tuple[str, str]]:
    """Names of services and of their modules; of a module the second part is empty."""
    found = {}
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("scheduling.services"):
            below = node.module.removeprefix("scheduling.services").lstrip(".")
            for alias in node.names:
                name = alias.asname or alias.name
                found[name] = (below, alias.name) if below else (alias.name, "")
    return found


def target(node: ast.AST, names: dict[str, tuple[str, str]]) -> tuple[str, str] | None:
    """What is named here: a function of this module or one brought in, or one of a module brought in."""
    if isinstance(node, ast.Name):
        return names.get(node.id)
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        module, nothing = names.get(node.value.id, ("", "-"))
        return (module, node.attr) if not nothing else None
    return None


def notes(module: str, function: str, seen: frozenset[tuple[str, str]] = frozenset()) -> bool:
    """Whether an entry is written on some way through a service."""
    if (module, function) in {("audit", "note"), ("audit", "note_of_account")}:
        return True
    if (module, function) in seen or module not in modules():
        return False
    called = modules()[module].calls.get(function, set())
    return any(notes(*one, seen | {(module, function)}) for one in called)


def test_every_service_that_writes_leaves_an_entry_or_says_why_not() -> None:
    writing = [(name, one) for name, module in modules().items() for one in module.writes]
    silent = {f"{name}.{one}" for name, one in writing if not notes(name, one)}

    assert ("booking", "book_session") in writing
    assert silent == set(WITHOUT_ENTRY)


# From which face.


def faces() -> list[str]:
    return list(AuditEntry.objects.order_by("id").values_list("face", flat=True))


def test_a_path_tells_the_face() -> None:
    for path, face in (
        ("/", Face.PAGE),
        ("/sessions/1/call-off", Face.PAGE),
        ("/apiary", Face.PAGE),
        ("/api/sessions/", Face.API),
        ("/admin/", Face.ADMIN),
    ):
        assert face_of(path) == face, path


def test_pages_api_admin_and_commands_say_which_they_are(town: Town) -> None:
    town.manager.is_staff = town.manager.is_superuser = True
    town.manager.save()
    client = Client()
    client.force_login(town.manager)
    session = book(town, "blowing", local(1, 18))

    client.post("/calendars", {"label": "phone"})
    client.post("/api/feed-keys/", {"label": "phone"}, "application/json")
    client.post(f"/admin/scheduling/session/{session.pk}/take-back/")
    options = {"course": "blowing", "studio": "hot-shop", "instructor": town.instructor.email}
    call_command("book_class", at="2031-03-06T18:00", **options)

    found = [face for face in faces() if face != Face.COMMAND]
    assert set(found) == {Face.PAGE, Face.API, Face.ADMIN}
    assert faces()[-1] == Face.COMMAND


def test_what_a_round_does_is_done_by_a_round_whoever_rang_for_it(town: Town) -> None:
    def lapse(_turn: Any) -> int:
        audit.note(actor=None, did="lapse", subject=town.student, studio=town.flame, said="A seat lapsed")
        return 1

    round_ = Round(name="trial", does=lapse, every=ROUNDS[0].every)
    with audit.acting(Face.PAGE):
        make_rounds([round_])

    assert faces() == [Face.ROUND]


def test_no_request_leaves_its_face_to_the_next_in_the_same_thread(town: Town) -> None:
    client = Client(raise_request_exception=False)
    client.force_login(town.student)

    client.post("/api/feed-keys/", {"label": "phone"}, "application/json")
    client.post("/api/feed-keys/", {"label": ""}, "application/json")
    new_feed_key(actor=town.student, label="by nobody's request")

    assert faces()[-1] == Face.COMMAND


def test_a_face_ends_also_where_something_breaks() -> None:
    with pytest.raises(ZeroDivisionError), audit.acting(Face.API):
        raise ZeroDivisionError

    assert audit.present() == Face.COMMAND


@pytest.mark.django_db(transaction=True)
def test_requests_side_by_side_in_threads_keep_their_faces_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both are inside their services at the same moment, each with a face of its own."""
    town, both_inside = build_town(), threading.Barrier(2)
    seen: dict[str, Face] = {}

    def look(*, actor: Person, label: str, **facts: Any) -> Any:
        both_inside.wait(timeout=20)
        seen[label] = audit.present()
        return new_feed_key(actor=actor, label=label, **facts)

    monkeypatch.setattr("scheduling.web.views.calendars.new_feed_key", look)
    monkeypatch.setattr("scheduling.api.views.duties.new_feed_key", look)

    def at_a_page() -> Face:
        return in_thread(town.student, lambda client: client.post("/calendars", {"label": "page"}))

    def at_the_api() -> Face:
        return in_thread(
            town.other_student,
            lambda client: client.post("/api/feed-keys/", {"label": "api"}, "application/json"),
        )

    with ThreadPoolExecutor(2) as pool:
        for _ in range(3):  # the threads are used again
            after = [one.result() for one in (pool.submit(at_a_page), pool.submit(at_the_api))]
            assert seen == {"page": Face.PAGE, "api": Face.API}
            assert after == [Face.COMMAND, Face.COMMAND]


def in_thread(person: Person, send: Callable[[Client], object]) -> Face:
    """Send a request; gives the face that the thread has afterwards."""
    client = Client()
    client.force_login(person)
    try:
        send(client)
        return audit.present()
    finally:
        connections.close_all()
