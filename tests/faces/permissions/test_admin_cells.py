"""The admin: no role opens it; what its own rights open, the services still ask a role for."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import time_machine
from django.contrib import admin
from django.contrib.auth.models import Permission
from django.db import transaction
from django.test import Client, RequestFactory
from django.urls import reverse

from scheduling.models import BookingStatus, FeedKey, Seat, Session
from studios.models import Person, Role
from studios.permissions import ACTIONS
from tests.faces.permissions.cast import MONDAY_NINE, STUDIOS, Cast
from tests.faces.permissions.table import addresses
from tests.worlds import Town

pytestmark = pytest.mark.django_db
SEEN: set[str] = set()
EDITED = {"add", "change", "delete", "delete_selected"}
COUNTED = EDITED - {"add"}  # attempts to sign in; deleting one lets somebody in again
# What somebody who runs the server may do with the rows of each table, besides seeing them.
ADMIN: dict[str, set[str]] = {
    "accessattempt": COUNTED | {"cleanup_expired_attempts"},
    "accessfailurelog": COUNTED,
    "accesslog": COUNTED,
    "actual": SEEN,
    "auditentry": SEEN,
    "booking": SEEN,
    "busyspan": SEEN,
    "calibration": SEEN,
    "charge": SEEN,
    "course": EDITED,
    "equipment": EDITED,
    "feedcopy": SEEN,
    "feedkey": {"change", "delete", "delete_selected", "withdraw"},
    "firing": SEEN,
    "glasstype": EDITED,
    "group": EDITED,
    "kilnanswer": SEEN,
    "kilnjob": SEEN,
    "lease": SEEN,
    "load": SEEN,
    "message": SEEN,
    "occupancy": SEEN,
    "occupancyphase": SEEN,
    "othercalendar": SEEN,
    "outage": EDITED,
    "person": EDITED,
    "personspan": SEEN,
    "pickup": SEEN,
    "piece": SEEN,
    "refill": SEEN,
    "repeatedrequest": SEEN,
    "revision": SEEN,
    "seat": {"add", "give_back"},
    "series": SEEN,
    "session": {"add", "call_off"},
    "studio": EDITED,
    "supply": EDITED,
    "supplyuse": SEEN,
    "tick": SEEN,
    "travel": EDITED,
    "waitingplace": SEEN,
}


@pytest.fixture
def cast(town: Town) -> Iterator[Cast]:
    with time_machine.travel(MONDAY_NINE, tick=False):
        yield Cast(town=town)


def test_what_can_be_done_to_each_table_stands_in_the_table(town: Town) -> None:
    request = RequestFactory().get("/admin/")
    request.user = Person.objects.create_superuser("owner@town.example", "glass", name="Owner")
    found = {}
    for model, shown in admin.site._registry.items():
        rights = {
            name for name in ("add", "change", "delete") if getattr(shown, f"has_{name}_permission")(request)
        }
        found[str(model._meta.model_name)] = rights | set(shown.get_actions(request))

    assert found == ADMIN


def paths() -> list[str]:
    """Every address of the admin, with something in the place of what varies."""
    patterns = (address.pattern for address in addresses(("admin/",)))
    return sorted({"/" + _filled(pattern) for pattern in patterns} - {"/admin/login/"})


def _filled(pattern: str) -> str:
    pattern = re.sub(r"<path:\w+>", "1", pattern)
    pattern = re.sub(r"\^?\(\?P<app_label>[^)]*\)/\$", "studios/", pattern)
    return re.sub(r"\(\?P<url>\.\*\)\$", "nothing", pattern)


@pytest.mark.parametrize("role", [None, *Role.values])
def test_no_role_opens_any_page_of_the_admin(cast: Cast, role: str | None) -> None:
    client = Client()
    if role:
        client.force_login(cast.tries[role, "flame"])

    opened = []
    for path in paths():
        for method in ("GET", "POST"):
            if role and (method, path) == ("POST", "/admin/logout/"):
                continue  # signing out is for everybody
            answer = client.generic(method, path)
            if answer.status_code != 302 or not answer["Location"].startswith(("/admin/login/", "/admin/")):
                opened.append((method, path, answer.status_code))

    assert opened == []
    assert len(paths()) > 150


OPEN_TO_STAFF = {"/admin/", "/admin/jsi18n/", "/admin/logout/", "/admin/password_change/"} | {
    "/admin/password_change/done/"
}


def test_staff_without_rights_sees_no_row(cast: Cast) -> None:
    person = Person.objects.create_user("staff@town.example", "glass", name="Staff", is_staff=True)
    client = Client()
    client.force_login(person)

    opened = [path for path in paths() if path not in OPEN_TO_STAFF and client.get(path).status_code == 200]

    assert opened == []


@dataclass(frozen=True, kw_only=True)
class Deed:
    """Something done by somebody with all of Django's rights; `by` is what a role must allow besides."""

    name: str
    by: tuple[str, ...]
    does: Callable[[Client, Cast, Person], object]
    done: Callable[[Cast, Person], bool]


def select(model: type[Any], action: str, row: Callable[[Cast], Any]) -> Callable[..., object]:
    """An action of a list, on one row."""
    address = f"admin:scheduling_{model._meta.model_name}_changelist"
    return lambda client, cast, _: client.post(
        reverse(address), {"action": action, "_selected_action": row(cast).pk}
    )


def press(model: type[Any], row: Callable[[Cast], Any]) -> Callable[..., object]:
    """The button on the page of one row."""
    address = f"admin:scheduling_{model._meta.model_name}_take_back"
    return lambda client, cast, _: client.post(reverse(address, args=[row(cast).pk]))


def called_off(cast: Cast, _person: Person) -> bool:
    return Session.objects.get(pk=cast.session.pk).status == BookingStatus.CANCELLED


def given_back(cast: Cast, _person: Person) -> bool:
    return Seat.objects.get(pk=cast.seat.pk).status == BookingStatus.CANCELLED


def a_class(client: Client, cast: Cast, person: Person) -> object:
    form = {"course": cast.town.courses["beads"].pk, "studio": cast.town.flame.pk, "instructor": person.pk}
    return client.post(reverse("admin:scheduling_session_add"), form | {"day": "2031-03-07", "time": "18:00"})


def a_class_of_another(client: Client, cast: Cast, _person: Person) -> object:
    return a_class(client, cast, cast.town.other_instructor)


def a_seat_for_another(client: Client, cast: Cast, _person: Person) -> object:
    form = {"person": cast.seated.pk, "session": cast.session.pk}
    return client.post(reverse("admin:scheduling_seat_add"), form)


DEEDS = [
    Deed(
        name="call_off from the list",
        by=("book-for-others",),
        does=select(Session, "call_off", lambda cast: cast.session),
        done=called_off,
    ),
    Deed(
        name="call off by the button",
        by=("book-for-others",),
        does=press(Session, lambda cast: cast.session),
        done=called_off,
    ),
    Deed(
        name="give_back from the list",
        by=("reserve-for-others",),
        does=select(Seat, "give_back", lambda cast: cast.seat),
        done=given_back,
    ),
    Deed(
        name="give back by the button",
        by=("reserve-for-others",),
        does=press(Seat, lambda cast: cast.seat),
        done=given_back,
    ),
    Deed(
        name="withdraw somebody's link",
        by=(),
        does=select(FeedKey, "withdraw", lambda cast: cast.feed_key),
        done=lambda cast, _: FeedKey.objects.get(pk=cast.feed_key.pk).revoked_at is not None,
    ),
    Deed(
        name="add a class of one's own",
        by=("teach",),
        does=a_class,
        done=lambda _, person: Session.objects.filter(instructor=person).exists(),
    ),
    Deed(
        name="add a class of somebody else",
        by=("book-for-others",),
        does=a_class_of_another,
        done=lambda cast, _: Session.objects.filter(instructor=cast.town.other_instructor).exists(),
    ),
    Deed(
        name="add a seat for somebody else",
        by=("reserve-for-others",),
        does=a_seat_for_another,
        done=lambda cast, _: Seat.objects.filter(person=cast.seated).exists(),
    ),
]


@pytest.mark.parametrize("deed", DEEDS, ids=lambda deed: deed.name)
def test_rights_in_the_admin_are_no_role_at_a_studio(cast: Cast, deed: Deed) -> None:
    wrong = []
    rights = Permission.objects.all()
    for role in Role.values:
        for slug in STUDIOS:
            person = cast.tries[role, slug]
            Person.objects.filter(pk=person.pk).update(is_staff=True)
            person.user_permissions.set(rights)
            allowed = slug == "flame" and any(role in ACTIONS[action] for action in deed.by)
            if in_passing(deed, Cast(town=cast.town), person) != allowed:
                wrong.append((role, slug, f"table: {allowed}"))

    assert wrong == []


def in_passing(deed: Deed, cast: Cast, person: Person) -> bool:
    client = Client()
    client.force_login(person)
    with transaction.atomic():
        deed.does(client, cast, person)
        done = deed.done(cast, person)
        transaction.set_rollback(True)
    return done


def test_every_action_of_the_admin_that_a_service_does_is_tried() -> None:
    actions = set().union(*ADMIN.values()) - EDITED - ADMIN["accessattempt"]

    assert all(any(action in deed.name for deed in DEEDS) for action in actions)
    assert actions == {"call_off", "give_back", "withdraw"}
